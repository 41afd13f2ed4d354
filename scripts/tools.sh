# What building needs; sourced by the scripts beside it, from the repository's root.

# What is built is called by its place below, wherever cargo is otherwise told to put it.
export CARGO_TARGET_DIR="$PWD/target"

# Runs a command as root, where that is possible.
as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif command -v sudo >/dev/null; then
        sudo "$@"
    else
        echo "This needs root or sudo: $*" >&2
        exit 1
    fi
}

# Installs Debian packages; elsewhere says what is missing.
install_packages() {
    if ! command -v apt-get >/dev/null; then
        echo "Please install first: $*" >&2
        echo "(macOS: xcode-select --install. Windows: the MSVC build tools.)" >&2
        exit 1
    fi
    as_root apt-get update -q
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y "$@"
}

# Whether the Rust found is at least the version that Cargo.toml asks for.
rust_is_new_enough() {
    wanted=$(sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)
    found=$(cargo --version 2>/dev/null | cut -d ' ' -f 2)
    [ -n "$found" ] && [ "$(printf '%s\n%s\n' "$wanted" "$found" | sort -V | head -n 1)" = "$wanted" ]
}

# Whether the system's packages offer this one.
is_on_offer() {
    command -v apt-get >/dev/null || return 1
    as_root apt-get update -q
    apt-cache policy "$1" | grep -q 'Candidate: [0-9]'
}

need_build_tools() {
    PATH="${CARGO_HOME:-$HOME/.cargo}/bin:$PATH"
    command -v cc >/dev/null || install_packages build-essential
    need_sound_headers
    rust_is_new_enough && return
    if ! command -v rustup >/dev/null && is_on_offer rustup; then
        install_packages rustup
    fi
    if command -v rustup >/dev/null; then
        # For these scripts alone: the user's default stays as it is.
        rustup toolchain install stable --profile minimal
        export RUSTUP_TOOLCHAIN=stable
    fi
    rust_is_new_enough && return
    echo "Rust $wanted or newer is needed; ${found:-none} was found. Please install it with" >&2
    echo "Rust's official installer and run this again." >&2
    exit 1
}

# The microphone needs ALSA's headers to build on Linux.
need_sound_headers() {
    [ "$(uname)" = Linux ] || return 0
    pkg-config --exists alsa 2>/dev/null && return
    install_packages pkg-config libasound2-dev
}

# Builds the program, unless scripts/test has: what it builds for tests is the same program, and to build it without what
# measuring needs would compile the library once more.
need_program() {
    [ -n "${RINGTRUE_BUILT:-}" ] || cargo build --quiet
}

# A sound server to play into the program, for tests.
need_sound_server() {
    command -v pulseaudio >/dev/null && command -v paplay >/dev/null && return
    install_packages --no-install-recommends pulseaudio pulseaudio-utils libasound2-plugins
}

# Trains, for each group of recorded guitars, the networks that never heard it, into a folder, where they are not there
# yet. By their place in `synth::notes::all` a group is one and, where a sound bank has one of its kind, that too; every
# guitar is in one group.
train_leaving_out() {
    for guitars in 0,8 1,9 2,7 3,10 4,6 5; do
        strums=$1/strums.$guitars.safetensors strokes=$1/strokes.$guitars.safetensors
        [ -s "$strums" ] || scripts/train strums --leave "$guitars" --out "$strums" >&2
        [ -s "$strokes" ] || scripts/train strokes --leave "$guitars" --begin "$strums" --out "$strokes" >&2
    done
    # What tells buzz never heard one maker of buzz either, by its place in `synth::buzz::Maker::ALL`.
    maker=0
    for guitars in 0,4,8 1,5,9 2,6,7 3,10; do
        buzz=$1/buzz.$guitars.safetensors
        [ -s "$buzz" ] || scripts/train buzz --leave "$guitars" --without "$maker" --out "$buzz" >&2
        maker=$((maker + 1))
    done
}
