"""The manifests: valid by the schemas of Kubernetes, at one with each other, with the image and with the service."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import kubernetes_validate
import pytest
import yaml

from warmstead.api.app import app

FOLDER = Path(__file__).parents[2] / "docker/kubernetes"
KUSTOMIZATION = yaml.safe_load((FOLDER / "kustomization.yaml").read_text())
MANIFESTS: dict[str, dict[str, Any]] = {
    manifest["kind"]: manifest
    for manifest in (yaml.safe_load((FOLDER / name).read_text()) for name in KUSTOMIZATION["resources"])
}
VERSIONS = ("1.29", "1.31", "1.33", "1.35", "1.37")
"""From the first that knows `matchLabelKeys` by default on."""


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("kind", MANIFESTS)
def test_each_manifest_is_valid_and_has_no_unknown_member(kind: str, version: str) -> None:
    assert kubernetes_validate.validate(MANIFESTS[kind], version, strict=True) == version


@pytest.mark.parametrize(
    ("kind", "member", "value"),
    [
        ("Deployment", "replica", 2),
        ("Deployment", "minReadySeconds", "soon"),
        ("PodDisruptionBudget", "maxUnavaileble", 1),
        ("HorizontalPodAutoscaler", "maxReplicas", "many"),
        ("NetworkPolicy", "ingress", {"ports": []}),
    ],
)
def test_the_schemas_refuse_what_is_wrong(kind: str, member: str, value: object) -> None:
    wrong = copy.deepcopy(MANIFESTS[kind])
    wrong["spec"][member] = value
    with pytest.raises(kubernetes_validate.ValidationError):
        kubernetes_validate.validate(wrong, VERSIONS[-1], strict=True)


def test_every_file_is_applied() -> None:
    files = {path.name for path in FOLDER.glob("*.yaml")} - {"kustomization.yaml"}
    assert files == set(KUSTOMIZATION["resources"])
    assert set(MANIFESTS) == {
        "Namespace",
        "ServiceAccount",
        "Deployment",
        "Service",
        "HorizontalPodAutoscaler",
        "PodDisruptionBudget",
        "NetworkPolicy",
    }


def pod() -> dict[str, Any]:
    specification: dict[str, Any] = MANIFESTS["Deployment"]["spec"]["template"]["spec"]
    return specification


def container() -> dict[str, Any]:
    (only,) = pod()["containers"]
    return only


def test_every_selector_finds_the_pods() -> None:
    labels = MANIFESTS["Deployment"]["spec"]["template"]["metadata"]["labels"]
    selectors = [
        MANIFESTS["Deployment"]["spec"]["selector"]["matchLabels"],
        MANIFESTS["Service"]["spec"]["selector"],
        MANIFESTS["PodDisruptionBudget"]["spec"]["selector"]["matchLabels"],
        MANIFESTS["NetworkPolicy"]["spec"]["podSelector"]["matchLabels"],
        *(spread["labelSelector"]["matchLabels"] for spread in pod()["topologySpreadConstraints"]),
    ]
    assert selectors == [labels] * len(selectors)


def test_the_autoscaler_owns_the_number_of_replicas() -> None:
    target = MANIFESTS["HorizontalPodAutoscaler"]["spec"]["scaleTargetRef"]
    deployment = MANIFESTS["Deployment"]
    assert (target["kind"], target["name"]) == (deployment["kind"], deployment["metadata"]["name"])
    assert target["apiVersion"] == deployment["apiVersion"]
    assert "replicas" not in deployment["spec"]
    assert MANIFESTS["HorizontalPodAutoscaler"]["spec"]["minReplicas"] == 2
    # A share of the request is what the autoscaler goes by.
    assert "cpu" in container()["resources"]["requests"]


def test_ports_are_named_once_and_used_by_name() -> None:
    (port,) = container()["ports"]
    assert (port["name"], port["containerPort"]) == ("http", 8080)
    assert MANIFESTS["Service"]["spec"]["ports"][0]["targetPort"] == port["name"]
    assert MANIFESTS["NetworkPolicy"]["spec"]["ingress"] == [{"ports": [{"port": "http", "protocol": "TCP"}]}]


def test_nothing_goes_out() -> None:
    policy = MANIFESTS["NetworkPolicy"]["spec"]
    assert policy["policyTypes"] == ["Ingress", "Egress"]
    assert policy["egress"] == []


@pytest.mark.parametrize("probe", ["startupProbe", "livenessProbe", "readinessProbe"])
def test_probes_ask_what_the_service_answers(probe: str) -> None:
    asked = container()[probe]["httpGet"]
    assert asked["port"] == "http"
    assert asked["path"] in app.openapi()["paths"]


def test_the_pod_has_the_restricted_profile() -> None:
    # Pod Security Standards, profile "restricted": the controls that a pod must set itself.
    assert pod()["securityContext"]["runAsNonRoot"] is True
    assert pod()["securityContext"]["runAsUser"] != 0
    assert pod()["securityContext"]["seccompProfile"] == {"type": "RuntimeDefault"}
    security = container()["securityContext"]
    assert security["allowPrivilegeEscalation"] is False
    assert security["capabilities"] == {"drop": ["ALL"]}
    assert security["readOnlyRootFilesystem"] is True
    for forbidden in ("hostNetwork", "hostPID", "hostIPC"):
        assert forbidden not in pod()
    assert [set(volume) for volume in pod()["volumes"]] == [{"name", "secret"}]
    enforced = MANIFESTS["Namespace"]["metadata"]["labels"]["pod-security.kubernetes.io/enforce"]
    assert enforced == "restricted"


def test_keys_are_mounted_where_the_service_looks_for_them() -> None:
    (volume,) = pod()["volumes"]
    (mount,) = container()["volumeMounts"]
    told = {variable["name"]: variable["value"] for variable in container()["env"]}
    assert mount["name"] == volume["name"]
    assert mount["readOnly"] is True
    # A whole folder is mounted: a single file would not change when the Secret does.
    assert "subPath" not in mount
    assert str(Path(told["WARMSTEAD_KEYS_FILE"]).parent) == mount["mountPath"]
    assert "WARMSTEAD_BEHIND_PROXY" not in told


def test_readiness_and_liveness_are_asked_apart() -> None:
    assert container()["readinessProbe"]["httpGet"]["path"] == "/readyz"
    assert container()["livenessProbe"]["httpGet"]["path"] == "/healthz"


def test_no_token_is_mounted() -> None:
    assert MANIFESTS["ServiceAccount"]["automountServiceAccountToken"] is False
    assert pod()["automountServiceAccountToken"] is False
    assert pod()["serviceAccountName"] == MANIFESTS["ServiceAccount"]["metadata"]["name"]


def test_leaving_takes_less_time_than_is_granted() -> None:
    command, seconds = container()["lifecycle"]["preStop"]["exec"]["command"]
    assert command == "sleep"
    assert 0 < int(seconds) < pod()["terminationGracePeriodSeconds"]
    assert MANIFESTS["Deployment"]["spec"]["strategy"]["rollingUpdate"]["maxUnavailable"] == 0
