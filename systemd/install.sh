#!/bin/sh
# Has headroomd left running by systemd. From a fresh checkout: systemd/install.sh /media/stripe
set -eu

usage() {
  cat <<'TEXT'
systemd/install.sh [FOLDER...]                  for you: starts when you sign in. FOLDERs become the configuration, if there is none
systemd/install.sh --system [--shelf FOLDER]... for the machine, as the user "headroomd" (as root, from a checkout such as /opt/headroomd)
systemd/install.sh --upgrade [--system]         fetches the newest, installs it, starts it again; without --system for you
systemd/install.sh --remove [--system]          stops it and takes the unit away; configuration, state and copies stay
TEXT
}

root=$(cd "$(dirname "$0")/.." && pwd -P)
whole=no
act=install
shelves=

say() { printf '%s\n' "$1"; }
stop() {
  printf 'install.sh: %s\n' "$1" >&2
  exit 1
}

# What stands in a unit or a configuration must not end early there.
plain() {
  case $1 in
    *[!A-Za-z0-9_./\ -]*) stop "$1 has characters that cannot be written into a unit here: use letters, digits, space and ._-/" ;;
  esac
}

while [ $# -gt 0 ]; do
  case $1 in
    --system) whole=yes ;;
    --upgrade) act=upgrade ;;
    --remove) act=remove ;;
    --shelf)
      [ $# -gt 1 ] || stop "--shelf needs a folder"
      plain "$2"
      shelves="${shelves}ReadWritePaths=\"-$2\"
"
      shift
      ;;
    --help) usage && exit 0 ;;
    -*) usage >&2 && exit 2 ;;
    *) break ;;
  esac
  shift
done

[ -z "$shelves" ] || [ $whole = yes ] || stop "--shelf is for --system: what is yours may write to shelves anyhow."
if [ $whole = yes ]; then
  name=headroomd-system
  units=${HEADROOMD_UNITS:-/etc/systemd/system}
  config=${HEADROOMD_ETC:-/etc}/headroomd
  state=/var/lib/headroomd
  manager="systemctl"
else
  name=headroomd
  units=${XDG_CONFIG_HOME:-$HOME/.config}/systemd/user
  config=${XDG_CONFIG_HOME:-$HOME/.config}/headroomd
  state=${XDG_STATE_HOME:-$HOME/.local/state}/headroomd
  manager="systemctl --user"
fi

# Does the manager answer? In a container, or over ssh without a session, there is none.
managed() { $manager show --property=Version >/dev/null 2>&1; }

remove() {
  if managed; then $manager disable --now "$name.service" || true; fi
  rm -f "$units/$name.service" "$units/$name.service.d/shelves.conf"
  rmdir "$units/$name.service.d" 2>/dev/null || true
  if managed; then $manager daemon-reload; fi
  say "Removed: $units/$name.service. The configuration ($config), the state ($state) and all copies stay."
}

# What runs needs its packages until it has ended: they are replaced after that.
fetch() {
  git pull --ff-only
  if managed; then $manager stop "$name.service" || true; fi
}

packages() {
  command -v npm >/dev/null 2>&1 || [ -d node_modules/pino ] || stop "npm is not there: install it, it brings all else that is needed."
  [ -d node_modules/pino ] && [ $act = install ] || npm ci --no-fund --no-audit
}

configure() {
  mkdir -p "$config" "$config/secrets"
  chmod 700 "$config/secrets"
  [ ! -e "$config/headroomd.toml" ] || [ $# -eq 0 ] || say "$config/headroomd.toml is there already: the folders named here are left out."
  if [ ! -e "$config/headroomd.toml" ]; then
    [ $# -gt 0 ] || stop "there is no configuration: name the folder to watch (systemd/install.sh /media/stripe), or write $config/headroomd.toml."
    volumes "$@" >"$config/headroomd.toml.new"
    mv "$config/headroomd.toml.new" "$config/headroomd.toml"
    say "Written: $config/headroomd.toml. All that can be set is in $root/config/headroomd.toml."
  fi
  "$root/src/headroomd" check --config "$config/headroomd.toml"
}

volumes() {
  for folder in "$@"; do
    [ -d "$folder" ] || stop "$folder is no folder. Check the name, and that the volume is mounted."
    path=$(cd "$folder" && pwd -P)
    plain "$path"
    printf '[[volume]]\nname = "%s"\npath = "%s"\n\n' "$(basename "$path")" "$path"
  done
}

unit() {
  mkdir -p "$units"
  # Spaces are taken in quotes, and % means something in units: it is no plain character.
  sed -e "s|^ExecStart=/opt/headroomd/src/headroomd|ExecStart=\"$root/src/headroomd\"|" \
    -e "s|^Documentation=.*|Documentation=file:$(printf '%s' "$root" | sed 's/ /%%20/g')/README.md|" \
    -e "s|%[hE]/\(.config/\)\{0,1\}headroomd/|$config/|" "$root/systemd/$name.service" >"$units/$name.service.new"
  mv "$units/$name.service.new" "$units/$name.service"
  [ -z "$shelves" ] && return
  mkdir -p "$units/$name.service.d"
  printf '[Service]\n%s' "$shelves" >"$units/$name.service.d/shelves.conf"
}

account() {
  case $root in
    /home/* | /root/*) stop "the service cannot see $root: check headroomd out elsewhere, such as /opt/headroomd." ;;
  esac
  [ "$(id -u)" = 0 ] || stop "--system needs root: sudo systemd/install.sh --system"
  getent passwd headroomd >/dev/null || useradd --system --user-group --no-create-home --home-dir "$state" --shell /usr/sbin/nologin headroomd
}

cd "$root"
plain "$root"
plain "$config"
if [ $act = remove ]; then remove && exit 0; fi
[ $act != upgrade ] || fetch
packages
[ $whole = no ] || [ -n "${HEADROOMD_UNITS:-}" ] || account
configure "$@"
unit
if managed; then
  $manager daemon-reload
  $manager enable "$name.service"
  $manager restart "$name.service"
  say "It runs. To look: $root/src/headroomd status, and $manager status $name"
else
  say "Written: $units/$name.service. No service manager answers here (\"$manager\"), so nothing was started. In a session: $manager daemon-reload && $manager enable --now $name"
fi
