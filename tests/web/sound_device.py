"""A sound device that swallows all: without any, some browsers never start an audio clock."""

import contextlib
import os
import subprocess
import tempfile
from collections.abc import Iterator


@contextlib.contextmanager
def device() -> Iterator[dict[str, str]]:
    """Start one; gives the surroundings of a program that is to use it."""
    with tempfile.TemporaryDirectory() as folder:
        socket = f"{folder}/native"
        command = ["pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1"]
        for module in ("module-null-sink", f"module-native-protocol-unix socket={socket}"):
            command += ["-L", module]
        surroundings = {**os.environ, "HOME": folder, "XDG_RUNTIME_DIR": folder}
        with subprocess.Popen(
            command, env=surroundings, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as process:
            try:
                yield {**os.environ, "PULSE_SERVER": f"unix:{socket}"}
            finally:
                process.kill()
