#!/bin/sh
# The browser tests drive Debian's Chromium; install it where it is missing and we may.
command -v chromium >/dev/null 2>&1 && exit 0
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    apt-get update -qq && apt-get install -y -qq chromium fonts-dejavu >/dev/null
else
    echo "Install Chromium first (Debian: apt-get install chromium); the browser tests need it." >&2
    exit 1
fi
