# Sourced by the other tools: installs what a fresh Debian 12 misses. Nothing is downloaded by the program itself.
lotwear_packages=(
  build-essential cmake ninja-build pkg-config git ca-certificates
  libopencv-dev libcli11-dev nlohmann-json3-dev libfmt-dev libgtest-dev libgmock-dev libbenchmark-dev
  libexiv2-dev libheif-dev libjpeg62-turbo-dev libpng-dev liblcms2-dev libssl-dev libcairo2-dev libpango1.0-dev
  libxlsxwriter-dev libcpp-httplib-dev libpolyclipping-dev fonts-dejavu-core fonts-dejavu-extra
  poppler-utils qpdf chromium libreoffice-calc-nogui python3-jsonschema  # tests only
)

lotwear_install() {
  local missing=()
  # tests only; where Node.js came from elsewhere it brings npm along, and Debian's would not go beside it
  command -v node >/dev/null && command -v npm >/dev/null || lotwear_packages+=(nodejs npm)
  for package in "${lotwear_packages[@]}"; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing+=("$package")
  done
  [ ${#missing[@]} -eq 0 ] && return 0
  local sudo=()
  [ "$(id -u)" -eq 0 ] || sudo=(sudo)
  echo "Installing ${#missing[@]} packages: ${missing[*]}"
  "${sudo[@]}" apt-get update -qq
  DEBIAN_FRONTEND=noninteractive "${sudo[@]}" apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
}

lotwear_build() {
  # PRESET [TARGET...]; configured once, then only what changed
  local preset=$1
  shift
  [ -f "build/$preset/build.ninja" ] || cmake --preset "$preset" >/dev/null
  cmake --build --preset "$preset" ${1:+--target "$@"}
}
