/* A reading that can hardly be right: the wrong unit, a slipped point, a sign. It is asked about before it is
 * kept, and kept when the person confirms it ("sure"). Stored readings are never asked about again.
 *
 * Reach: what is wanted there, and five times beyond either end (twice, where the ends lie within a factor of two);
 * nothing below nought where nothing below nought is wanted. Without a target: what an engine of this bore can have,
 * and what hand tools of a shop can read. Common practice, no source: wide enough that a worn-out engine passes, and
 * narrow enough that a slip by a thousand, or between inch and millimetre (25.4), does not. */
#pragma once
#include "build/build.h"

/* Asks (EW_ERROR_ASKS) when a figure of the record is out of reach; TRUE when it is not, or is said to be so. */
gboolean ew_build_plausible(enum ew_build_kind kind, const void *record, const char *where,
                            const struct ew_build *build, const struct ew_engine *engine,
                            GError **error);
