"""Processes of their own, quickly begun: forked from one that has imported what they need."""

import multiprocessing

CONTEXT = multiprocessing.get_context("forkserver")
CONTEXT.set_forkserver_preload(["replanner.store.upgrade", "psycopg", "tests.store.things"])
