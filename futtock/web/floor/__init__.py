"""The floor's pages: at the saw and at the bench, which go on where the network drops."""

from __future__ import annotations

from fastapi import APIRouter

from futtock.web.floor import bench, saw, traveller, worker

router = APIRouter()
router.include_router(bench.router)
router.include_router(saw.router)
router.include_router(traveller.router)
router.include_router(worker.router)
