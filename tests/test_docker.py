"""The image and the compose file as written: what can be seen to hold without building or starting either."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from conftest import need
from project import ROOT

DOCKER = ROOT / "docker"
ROLES = ("api", "dispatcher", "scheduler", "worker")
VARIABLE = re.compile(r"\$\{(\w+)(:[-?])?([^}]*)\}")
SECRET = re.compile("PASSWORD|CERTIFICATES|TOKEN|KEY")


@lru_cache(maxsize=1)
def compose() -> dict[str, Any]:
    document: dict[str, Any] = yaml.safe_load((DOCKER / "compose.yaml").read_text())
    return document


def service(name: str) -> dict[str, Any]:
    found: dict[str, Any] = compose()["services"][name]
    return found


@lru_cache(maxsize=1)
def instructions() -> list[tuple[str, str]]:
    """Return the Dockerfile's instructions with what they say, comments left out and lines joined."""
    lines = [line for line in (DOCKER / "Dockerfile").read_text().splitlines() if not line.startswith("#")]
    joined = re.sub(r"\\\n\s*", " ", "\n".join(lines))
    pairs = [line.partition(" ") for line in joined.splitlines() if line.strip()]
    return [(word, said.strip()) for word, _, said in pairs]


def said(word: str) -> list[str]:
    return [text for name, text in instructions() if name == word]


# ---------------------------------------------------------------------------------------------------- the image


def test_the_image_is_built_in_stages_from_named_versions() -> None:
    bases = said("FROM")
    assert len(bases) == 2
    assert " AS build" in bases[0]
    for base in bases:
        image, _, version = base.split(" ")[0].partition(":")
        assert image
        assert version not in {"", "latest"}
    assert [text for text in said("COPY") if text.startswith("--from=build ")] == [
        "--from=build /opt/leadline /opt/leadline"
    ]


def test_the_image_runs_as_nobody_in_particular() -> None:
    after_last_base = instructions()[[word for word, _ in instructions()].index("FROM", 1) :]
    users = [text for word, text in after_last_base if word == "USER"]
    assert users == ["10001"]  # a number, so that a cluster can see that it is not root
    order = [word for word, _ in after_last_base]
    assert order.index("USER") < order.index("ENTRYPOINT")
    assert "RUN" not in order[order.index("USER") :]


def test_the_image_installs_what_the_lock_says() -> None:
    installs = [part for text in said("RUN") for part in text.split("&&") if "pip install" in part]
    assert installs
    for part in installs:
        assert "--require-hashes" in part or "--no-index --no-deps" in part


def test_commands_are_lists_and_paths_are_absolute() -> None:
    for word in ("ENTRYPOINT", "CMD"):
        assert all(isinstance(json.loads(text), list) for text in said(word))
    (check,) = said("HEALTHCHECK")
    assert json.loads(check.partition(" CMD ")[2]) == ["healthy"]
    assert all(text.startswith("/") for text in said("WORKDIR"))
    assert not said("ADD")
    assert not any("sudo" in text or "apt-get" in text for text in said("RUN"))


def test_whatever_is_copied_is_there_and_let_through() -> None:
    ignored = (ROOT / ".dockerignore").read_text().splitlines()
    let_through = [line.removeprefix("!") for line in ignored if line.startswith("!")]
    for text in said("COPY"):
        *sources, _target = [word for word in text.split() if not word.startswith("--")]
        if "--from=build" in text:
            continue
        for source in sources:
            assert (ROOT / source).exists(), source
            assert any(source == known or source.startswith(f"{known}/") for known in let_through), source


# ------------------------------------------------------------------------------------------------- the compose file


def test_every_role_is_there_and_comes_from_one_image() -> None:
    assert set(compose()["services"]) == {*ROLES, "database"}
    assert {service(role)["image"] for role in ROLES} == {"leadline"}
    assert [role for role in ROLES if "build" in service(role)] == ["api"]
    assert not service("database")["image"].endswith((":latest", "postgres"))


@pytest.mark.parametrize("role", ROLES)
def test_a_role_can_do_nothing_but_its_work(role: str) -> None:
    made = service(role)
    assert made["read_only"] is True
    assert made["cap_drop"] == ["ALL"]
    assert made["security_opt"] == ["no-new-privileges:true"]
    assert any(mount.startswith("/tmp:") for mount in made["tmpfs"])  # noqa: S108 - where it is mounted in the container
    assert made["restart"] == "always"
    assert not {"privileged", "user", "pid", "network_mode", "cap_add", "devices"} & made.keys()
    assert not any("docker.sock" in volume for volume in made.get("volumes", []))


def test_only_the_api_is_published_and_only_to_this_machine_unless_told() -> None:
    assert [name for name, made in compose()["services"].items() if made.get("ports")] == ["api"]
    assert service("api")["ports"] == ["${LEADLINE_PUBLISH:-127.0.0.1:8731}:8731"]
    assert compose()["networks"]["inside"] == {"internal": True}
    assert [name for name, made in compose()["services"].items() if made["networks"] != ["inside"]] == ["api"]


def test_secrets_that_are_missing_fail_loudly() -> None:
    found = VARIABLE.findall((DOCKER / "compose.yaml").read_text())
    secrets = [parts for parts in found if SECRET.search(parts[0])]
    assert {name for name, _, _ in secrets} == {"LEADLINE_DATABASE_PASSWORD", "LEADLINE_CERTIFICATES"}
    for name, rule, message in secrets:
        assert rule == ":?", name  # empty is missing too
        assert len(message) > 20, name
    assert all(rule == ":-" for name, rule, _ in found if not SECRET.search(name))


def test_no_secret_is_written_down_or_on_a_command_line() -> None:
    text = (DOCKER / "compose.yaml").read_text()
    assert not re.search(r"://[^\s/@]+:[^\s/@]+@", text)
    for name, made in compose()["services"].items():
        words = [*made.get("command", []), *made.get("entrypoint", [])]
        assert not any("$" in word for word in words), name


@pytest.mark.parametrize("role", ["dispatcher", "scheduler", "worker"])
def test_a_role_has_its_own_certificate_and_no_others(role: str) -> None:
    mounted = {each["target"]: each["source"] for each in service(role)["secrets"]}
    assert mounted == {"ca": "ca", "certificate": f"{role}-certificate", "key": f"{role}-key"}
    files = {name: made["file"].rpartition("/")[2] for name, made in compose()["secrets"].items()}
    assert [files[source] for source in mounted.values()] == ["ca.crt", f"{role}.crt", f"{role}.key"]
    assert "ca.key" not in files.values()
    assert "secrets" not in service("api")


@pytest.mark.parametrize("role", ["scheduler", "worker"])
def test_dask_speaks_tls_only_and_shows_nothing(role: str) -> None:
    made = service(role)
    settings = made["environment"]
    assert settings["DASK_DISTRIBUTED__COMM__REQUIRE_ENCRYPTION"] == "True"
    assert settings[f"DASK_DISTRIBUTED__{role.upper()}__HTTP__ROUTES"] == "[]"
    assert "--no-dashboard" in made["command"]
    assert "--dashboard-address=127.0.0.1:0" in made["command"]
    assert any(word in {"--protocol=tls", "tls://scheduler:8786"} for word in made["command"])


def test_settings_of_dask_are_settings_dask_has() -> None:
    config = need("dask.config")
    need("distributed")
    for name in service("worker")["environment"]:
        if name.startswith("DASK_"):
            key = name.removeprefix("DASK_").lower().replace("__", ".")
            assert config.get(key, "nothing of the kind") != "nothing of the kind", key


@pytest.mark.parametrize("role", ROLES)
def test_options_are_options_the_programs_have(role: str) -> None:
    made = service(role)
    program, *verb = made.get("entrypoint", ["leadline", "serve"])
    words = made["command"][1:] if program == "leadline" else made["command"]
    helped = subprocess.run(
        [Path(sys.executable).parent / program, *verb, "--help"],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "COLUMNS": "200", "NO_COLOR": "1"},
    ).stdout
    options = [word.partition("=")[0] for word in words if word.startswith("--")]
    assert options
    assert [option for option in options if not re.search(rf"{option}\b", helped)] == []


@pytest.mark.parametrize("role", ROLES)
def test_every_role_is_looked_after(role: str) -> None:
    check = service(role).get("healthcheck")
    if check is None:  # the image's own, which asks a server
        assert service(role)["command"][0] == "serve"
        return
    command, program, address = check["test"]
    assert (command, program) == ("CMD", "healthy")
    port = re.search(r"--(?:worker-)?port=(\d+)", " ".join(service(role)["command"]))
    assert port is not None
    assert address.startswith("tls://")
    assert address.endswith(f":{port[1]}")
