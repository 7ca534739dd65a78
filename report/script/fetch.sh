#!/bin/sh
# Fetches the chart library (Apache ECharts, Apache-2.0) through npm, checks it
# against the digest below, and puts it where the build embeds it.
# Usage: sh report/script/fetch.sh        (needs npm)
set -eu
version=6.1.0
digest=b66b25aeb4df84e33199dc21694014d336d222cbd9deb0e5a7c14bd6aa0d0fd0
here=$(cd "$(dirname "$0")" && pwd)
target=$here/echarts.min.js

sum() { if command -v sha256sum >/dev/null; then sha256sum "$1"; else shasum -a 256 "$1"; fi; }
matches() { [ -f "$1" ] && [ "$(sum "$1" | cut -d' ' -f1)" = "$digest" ]; }

if matches "$target"; then
	echo "chart library $version is already here"
	exit 0
fi
command -v npm >/dev/null || {
	echo "npm is not installed: reports will carry drawn charts instead of interactive ones" >&2
	exit 1
}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
(cd "$work" && npm pack --silent "echarts@$version" >/dev/null && tar -xzf "echarts-$version.tgz" package/dist/echarts.min.js)
matches "$work/package/dist/echarts.min.js" || {
	echo "the chart library that npm delivered does not have the digest $digest; nothing was kept" >&2
	exit 1
}
mv "$work/package/dist/echarts.min.js" "$target"
echo "chart library $version is in report/script/echarts.min.js"
