"""Every deliberate fault can still be made: what it replaces stands in the code, and its tests exist."""

import pytest

from tests.mutations.run import ROOT, Edit, edits


@pytest.mark.parametrize("edit", edits(), ids=lambda edit: edit.what)
def test_the_edit_fits_the_code(edit: Edit) -> None:
    assert (ROOT / edit.file).read_text(encoding="utf-8").count(edit.old) == 1
    assert edit.new != edit.old and edit.tests
    assert all((ROOT / test).exists() for test in edit.tests)
