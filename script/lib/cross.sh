# Sourced after setup.sh: compiling for another processor than this machine's.
# shellcheck shell=sh

# debian_sources: the lines of this machine's own sources of Debian packages, wherever they are mirrored
debian_sources() {
  # shellcheck disable=SC2016
  apt-get indextargets --format 'deb $(REPO_URI) $(CODENAME) $(COMPONENT)' 'Identifier: Packages' 'Origin: Debian' | sort -u
}

# cross_names ARCHITECTURE: sets machine and processor, and refuses what we have not tried
cross_names() {
  case $1 in
    arm64) machine=aarch64-linux-gnu processor=aarch64 ;;
    *) echo "--architecture $1: amd64 on an amd64 machine, or arm64" >&2; exit 2 ;;
  esac
}

# cross_file ARCHITECTURE: makes build-cross/ARCHITECTURE.ini for meson, and beside it the libraries of that architecture, as Debian has them.
# Tests and the program itself run under Debian's qemu-user.
cross_file() {
  cross_names "$1"
  install_packages run "cross-$1"
  sysroot="$PWD/build-cross/$1"
  ini="$sysroot.ini"
  wanted=$( { sed -n 's/^run: //p' script/lib/packages | tr ' ' '\n' | grep -e '-dev$' | grep -v '^libc6-'; echo libc6-dev; echo libcmocka-dev; echo libgcc-12-dev; } | sort -u | tr '\n' ',')
  stamp="$sysroot.stamp-$(echo "$wanted" | sha256sum | cut -c1-16)"
  if [ ! -e "$stamp" ]; then
    step "Debian's libraries for $1"
    rm -rf "$sysroot" "$sysroot".stamp-*
    mkdir -p build-cross
    debian_sources | mmdebstrap --quiet --variant=extract --architectures="$1" --include="${wanted%,}" --format=directory \
      "$(. /etc/os-release && echo "$VERSION_CODENAME")" "$sysroot" -
    touch "$stamp"
  fi
  cat >"$ini" <<TEXT
[binaries]
c = '$machine-gcc'
ar = '$machine-gcc-ar'
strip = '$machine-strip'
pkgconfig = 'pkg-config'
exe_wrapper = ['qemu-$processor-static', '-L', '$sysroot']

[properties]
sys_root = '$sysroot'
pkg_config_libdir = ['$sysroot/usr/lib/$machine/pkgconfig', '$sysroot/usr/share/pkgconfig']

[built-in options]
c_args = ['--sysroot=$sysroot']
c_link_args = ['--sysroot=$sysroot', '-Wl,-rpath-link,$sysroot/lib/$machine:$sysroot/usr/lib/$machine']

[host_machine]
system = 'linux'
cpu_family = '$processor'
cpu = '$processor'
endian = 'little'
TEXT
}

# packages_of PROGRAM: the packages that its libraries come from, with commas. Their names are those of this machine's architecture, where the
# same libraries are installed to compile with; Debian 12 has them by one name for each.
packages_of() {
  owners=''
  here=$(gcc -print-multiarch)
  for library in $("$machine-readelf" -d "$1" | sed -n 's/.*(NEEDED).*\[\(.*\)\].*/\1/p'); do
    case $library in ld-linux*) continue ;; esac
    owner=$(dpkg -S "*/$here/$library" 2>/dev/null | head -1 | cut -d: -f1)
    [ -n "$owner" ] || { echo "$library is in no package of this machine" >&2; exit 3; }
    owners="$owners $owner"
  done
  echo "$owners" | tr ' ' '\n' | grep . | sort -u | paste -sd, | sed 's/,/, /g'
}
