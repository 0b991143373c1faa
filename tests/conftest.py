"""Settings for every test.

A busy machine is no reason for a property to fail, so that no example has a time limit. No test looks at the user's own
library or touches the user's own cache folder.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import settings

settings.register_profile("samechanges", deadline=None)
settings.load_profile("samechanges")


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        patch.delenv("SAMECHANGES_LIBRARY", raising=False)
        yield
