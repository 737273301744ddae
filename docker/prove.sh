#!/usr/bin/env bash
# Proves the image and the composition where neither a Docker daemon nor a registry of images is at hand: as root, on Debian.
#
#     docker/prove.sh                 the base is made here: debootstrap, Python 3.11 and pip in the place of python:3.11-slim
#     BASE=… PROXY=… docker/prove.sh  with real images, where they can be pulled
#
# Dockerfile and compose.yaml are not copied or rewritten: buildah builds the one, podman (runc) runs the other. What runs is
# cut off in namespaces of its own (network, mounts, processes); nothing is left behind. Ends with 0 if everything held.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)

if [ "${1:-}" != inside ]; then
  started=$SECONDS
  export scratch
  scratch=$(mktemp --directory --tmpdir prove.XXXXXX)
  trap 'rm -rf --one-file-system "$scratch"' EXIT
  step() { printf '\n== %s (%s s)\n' "$1" "$((SECONDS - started))"; }

  step "Tools"
  tools=(debootstrap buildah podman runc netavark aardvark-dns iptables curl python3-venv)
  dpkg --status "${tools[@]}" > /dev/null 2>&1 ||
    DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "${tools[@]}" > "$scratch/apt.log"
  python3 -m venv "$scratch/compose"
  "$scratch/compose/bin/python" -m pip install --quiet podman-compose==1.6.0
  mkdir "$scratch/bin" "$scratch/networks"
  export STORAGE_DRIVER=vfs CONTAINERS_CONF=$scratch/containers.conf PATH=$scratch/bin:$scratch/compose/bin:$PATH
  cat > "$CONTAINERS_CONF" <<CONF
[containers]
default_ulimits = ["nofile=1024:1024", "nproc=1024:1024"]
[engine]
runtime = "runc"
cgroup_manager = "cgroupfs"
events_logger = "file"
[network]
network_backend = "netavark"
network_config_dir = "$scratch/networks"
CONF
  for tool in podman buildah; do
    printf '#!/bin/sh\nexec %s --root %s/storage --runroot %s/run "$@"\n' "$(command -v "$tool")" "$scratch" "$scratch" > "$scratch/bin/$tool"
    chmod +x "$scratch/bin/$tool"
  done

  if [ -z "${BASE:-}" ]; then
    step "A base in the place of python:3.11-slim"
    debootstrap --variant=minbase --include=ca-certificates,python3-venv bookworm "$scratch/base" > "$scratch/debootstrap.log"
    # As in that image: `python` in /usr/local/bin, pip for it, and no word of an outside manager of packages.
    # shellcheck disable=SC2016  # expanded in there
    chroot "$scratch/base" sh -euc '
      wheel=$(echo /usr/share/python-wheels/pip-*.whl)
      rm /usr/lib/python3.11/EXTERNALLY-MANAGED
      PYTHONPATH=$wheel python3 -m pip install --quiet --root-user-action=ignore --no-index --no-deps "$wheel"
      printf "#!/bin/sh\nexec /usr/bin/python3 \"\$@\"\n" > /usr/local/bin/python
      chmod 755 /usr/local/bin/python'
    container=$(buildah from scratch)
    buildah add --quiet "$container" "$scratch/base" / > /dev/null
    buildah config --env PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin "$container"
    BASE=localhost/base
    buildah commit --quiet "$container" "$BASE" > /dev/null
    buildah rm "$container" > /dev/null
    rm -rf --one-file-system "$scratch/base"
  fi

  step "The image, by the steps of the Dockerfile"
  # The certificates of this machine are lent to the build: a network may have an authority of its own.
  build=(buildah build --isolation chroot --format docker --layers=false --volume /etc/ssl/certs:/etc/ssl/certs:ro)
  "${build[@]}" --build-arg "BASE=$BASE" --file "$here/Dockerfile" --tag localhost/warmstead:0.1.0 "$here/.." 2>&1 |
    grep --line-buffered -E '^\[|error|Error'
  podman images --format '{{.Repository}}: {{.Size}}, its base with it'

  if [ -z "${PROXY:-}" ]; then
    step "A proxy in the place of the nginx image"
    container=$(buildah from "$BASE")
    buildah run --isolation chroot "$container" -- sh -euc \
      'apt-get update -q; DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends nginx-light curl; nginx -v' \
      > "$scratch/proxy.log" 2>&1
    PROXY=localhost/proxy
    buildah commit --quiet "$container" "$PROXY" > /dev/null
    buildah rm "$container" > /dev/null
  fi

  export PROXY_IMAGE=$PROXY
  unshare --net --mount --pid --fork --kill-child --mount-proc "$0" inside
  step "Everything held"
  exit
fi

# From here on in namespaces of its own, where there is no way out.
ip link set lo up
mount -t tmpfs tmpfs /run # the engine's notes of its networks
step() { printf '\n== %s\n' "$1"; }
# The engine would have systemd call its health checks and says so; here they are called by hand.
quiet() { "$@" 2> >(grep -v systemd >&2); }
stopped_cleanly() {
  local before after status
  before=$(date +%s%N)
  quiet podman stop --time 30 "$1" > /dev/null
  after=$(date +%s%N)
  status=$(podman inspect --format '{{.State.ExitCode}}' "$1")
  printf '%s: status %s, %s ms after SIGTERM\n' "$1" "$status" "$(((after - before) / 1000000))"
  [ "$status" = 0 ] && [ "$(((after - before) / 1000000))" -lt 10000 ]
}

step "One container: read-only without any exception, no rights, no network"
for workers in 1 2; do
  quiet podman run --detach --name "workers-$workers" --network none --read-only --read-only-tmpfs=false --cap-drop ALL \
    --security-opt no-new-privileges --memory 768m --pids-limit 64 \
    localhost/warmstead:0.1.0 serve --host 0.0.0.0 --port 8080 --workers "$workers" --behind-proxy > /dev/null
  podman exec --interactive "workers-$workers" python - < "$here/prove/inside.py"
  podman healthcheck run "workers-$workers"
  echo "the image's health check passes"
  stopped_cleanly "workers-$workers"
  if podman logs "workers-$workers" 2>&1 | grep -E 'Traceback|ERROR'; then exit 1; fi
  # The engine's own mount points (/etc/hosts and the like) show as changed folders; nothing else was changed or added.
  if podman diff "workers-$workers" | grep -vxE 'C /etc|C /run|A /run/.containerenv'; then exit 1; fi
  quiet podman rm "workers-$workers" > /dev/null
done

step "Who may call: nobody by chance"
if quiet podman run --rm --network none localhost/warmstead:0.1.0 > "$scratch/refused.log" 2>&1; then
  echo "it started, and nothing would check who calls"
  exit 1
fi
grep -e --behind-proxy "$scratch/refused.log" > /dev/null
echo "without keys and without a proxy it does not start, and says what to do"
quiet podman run --rm --network none --read-only localhost/warmstead:0.1.0 key new --name prover > "$scratch/key" 2> /dev/null
sed -n 2p "$scratch/key" > "$scratch/keys"
quiet podman run --detach --name keyed --network none --read-only --read-only-tmpfs=false --cap-drop ALL \
  --volume "$scratch/keys:/keys:ro" --env WARMSTEAD_KEYS_FILE=/keys localhost/warmstead:0.1.0 > /dev/null
podman exec --interactive --env "KEY=$(sed -n 1p "$scratch/key")" keyed python - < "$here/prove/keys.py"
podman healthcheck run keyed
stopped_cleanly keyed
if podman logs keyed 2>&1 | grep -F "$(sed -n 1p "$scratch/key")"; then exit 1; fi
quiet podman rm keyed > /dev/null

step "The health check fails where nothing serves"
quiet podman run --detach --name idle --network none --entrypoint sleep localhost/warmstead:0.1.0 60 > /dev/null
if podman healthcheck run idle > /dev/null 2>&1; then echo "it passed"; exit 1; fi
quiet podman rm --force --time 0 idle > /dev/null
echo "it does"

step "The composition"
compose() {
  podman-compose --in-pod false --file "$here/compose.yaml" "$@" > "$scratch/compose.log" 2>&1 && return
  cat "$scratch/compose.log"
  return 1
}
healthy() {
  for _ in $(seq 60); do
    podman healthcheck run "$1" > /dev/null 2>&1 && return
    sleep 1
  done
  echo "$1 does not become healthy"
  podman logs "$1"
  return 1
}
compose up --detach --no-build replica-1 replica-2
healthy warmstead_replica-1_1
healthy warmstead_replica-2_1
compose up --detach --no-build proxy
healthy warmstead_proxy_1
python3 "$here/prove/proxy.py"
if podman exec warmstead_replica-1_1 python -c 'import socket; socket.create_connection(("192.0.2.1", 80), 3)' 2> /dev/null; then
  echo "a replica got out"
  exit 1
fi
echo "a replica cannot get out"
stopped_cleanly warmstead_replica-2_1
compose down
