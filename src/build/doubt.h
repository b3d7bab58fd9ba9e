/* A reading that can hardly be right: the wrong unit, a slipped point, a sign. It is asked about before it is
 * kept, and kept when the person confirms it ("sure"). Stored readings are never asked about again.
 *
 * Reach: what is wanted there, and five times beyond either end (twice, where the ends lie within a factor of two);
 * nothing below nought where nothing below nought is wanted. Without a target: what an engine of this bore can have,
 * and what hand tools of a shop can read. Common practice, no source: wide enough that a worn-out engine passes, and
 * narrow enough that a slip by a thousand, or between inch and millimetre (25.4), does not.
 *
 * Sizes without a target (journals of a crank, bores of a block) are held against each other, once two of them are known: the least step
 * to which journals and bores are reground is 0.25 mm or 0.010 in, and what wears in one engine differs by hundredths. A figure that is
 * further from the middle of the others than EW_SIZES_APART_M belongs to another part or another place. Common practice, no source. */
#pragma once
#include "build/build.h"

#define EW_SIZES_APART_M 0.1e-3
#define EW_SIZE_LEAST_M  10e-3 /* below it, what has no target is a height or a gap */

/* Asks (EW_ERROR_ASKS) when a figure of the record is out of reach; TRUE when it is not, or is said to be so. */
gboolean ew_build_plausible(enum ew_build_kind kind, const void *record, const char *where,
                            const struct ew_build *build, const struct ew_engine *engine,
                            GError **error);
/* Asks when this place has a reading of this stage already, which the new one would take the place of: the same bearing typed twice. The
 * very record that is there already, sent again, is none. Records of the build are those that count. O(measurements). */
gboolean ew_build_first_there(enum ew_build_kind kind, const void *record, const char *where,
                              const struct ew_build *build, GError **error);
