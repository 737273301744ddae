"""The least FastAPI application, to measure start and memory against."""

from fastapi import FastAPI

app = FastAPI()


@app.get("/healthz")
def healthz() -> dict[str, str]:
    """Answer."""
    return {"status": "ok"}
