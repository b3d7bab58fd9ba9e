# Sourced by the scripts beside this folder. Installs what is missing and configures the build.
# shellcheck shell=sh

# --help: the head of the script that sources this
case "${1:-}" in
  -h | --help)
    sed -n '2,${/^#/!q;s/^# \{0,1\}//p;}' "$0"
    exit 0
    ;;
esac

root=$(cd "$(dirname "$0")/.." && pwd)
cd "$root" || exit 3

# no_options ARGUMENTS...: for a script that takes none
no_options() {
  [ $# -eq 0 ] || { echo "unknown option $1; $0 takes none but --help" >&2; exit 2; }
}

step() { printf '\n== %s\n' "$*"; }

# install_packages GROUP...: only what dpkg does not have yet
install_packages() {
  missing=''
  for group in "$@"; do
    for package in $(sed -n "s/^$group: //p" script/lib/packages); do
      [ "$(dpkg-query -W -f='${Status}' "$package" 2>/dev/null || true)" = 'install ok installed' ] || missing="$missing $package"
    done
  done
  [ -n "$missing" ] || return 0
  if [ "$(id -u)" -eq 0 ]; then
    as_root=''
  elif command -v sudo >/dev/null 2>&1; then
    as_root=sudo
  else
    echo "Please install, as root:$missing" >&2
    exit 2
  fi
  step "installing Debian packages:$missing"
  # shellcheck disable=SC2086
  $as_root env DEBIAN_FRONTEND=noninteractive sh -c \
    'apt-get update -qq && apt-get install -y -qq --no-install-recommends "$@" >/dev/null' sh $missing
}

# Another vendor's Node.js does as well as Debian's, from version 18 on.
install_node() {
  if ! command -v node >/dev/null 2>&1 || ! command -v npm >/dev/null 2>&1; then
    install_packages npm
  fi
}

# install_npm FOLDER: what its package-lock.json names
install_npm() {
  stamp="$1/node_modules/.stamp-$(sha256sum "$1/package-lock.json" | cut -c1-16)"
  [ -e "$stamp" ] && return 0
  step "installing the npm packages of $1"
  (cd "$1" && npm ci --ignore-scripts --no-audit --no-fund --fetch-retries=1 --fetch-timeout=30000 >/dev/null) && touch "$stamp"
}

# build FOLDER [meson options]: configures when new, or when the folders of tests or the packages at hand
# have changed since, and compiles what changed; all of it, or what $targets names
build() {
  folder=$1
  shift
  mark=$( (ls -d tests/*/ tests/reference/*/ 2>/dev/null; cat script/lib/packages; command -v node; pkg-config --modversion cmocka) 2>/dev/null | sha256sum | cut -c1-16)
  if [ ! -e "$folder/build.ninja" ] || [ ! -e "$folder/.configured-$mark" ]; then
    step "configuring $folder"
    mkdir -p "$folder"
    again=''
    [ ! -e "$folder/build.ninja" ] || again=--reconfigure
    # shellcheck disable=SC2086
    /usr/bin/meson setup $again "$folder" "$@" >"$folder/setup.log" 2>&1 || { cat "$folder/setup.log"; exit 3; }
    rm -f "$folder"/.configured-*
    touch "$folder/.configured-$mark"
  fi
  step "building $folder"
  # shellcheck disable=SC2086
  ninja -C "$folder" ${targets:-} >"$folder/build.log" 2>&1 || { grep -E 'error|warning|FAILED|undefined' "$folder/build.log" | head -40; exit 3; }
}
