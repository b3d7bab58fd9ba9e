/* Of each page whose curve follows a slider, where its last runs left off (cycle/warm.h), so that the next begin there. Belongs to the predictor's
 * quick lane: one thread. Of EW_FOLLOWED_MOST pages at most, a megabyte each; the one that asked longest ago goes. */
#pragma once
#include "cycle/warm.h"

#define EW_FOLLOWED_MOST 4

struct ew_followed; /* opaque */

struct ew_followed *ew_followed_new(void);
void ew_followed_free(struct ew_followed *followed);
/* Of this page of this device; empty when it asks for the first time, or again after it went. It stays until the next call. */
struct ew_cycle_warm *ew_followed_of(struct ew_followed *followed, const char *device,
                                     const char *page);
