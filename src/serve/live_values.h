/* The latest figure of every channel of a live session, and for how long it may be shown as live.
 *
 * A figure is fresh for two and a half of its own usual waits (median of the last three), at least half a
 * second and at most five: a source of one sample a second is shown steadily, one of a hundred is seen to
 * have stopped after half a second. What is not fresh is given as none. */
#pragma once
#include "base/json_writer.h"
#include "cell/live_channels.h"

struct ew_live_values; /* opaque; the caller guards it */
struct ew_live_values *ew_live_values_new(void);
void ew_live_values_free(struct ew_live_values *values);
void ew_live_values_reset(struct ew_live_values *values);

/* `now_us`: monotonic, as in all that follows. */
void ew_live_values_take(struct ew_live_values *values, const GArray *channels,
                         const double *inside, gint64 now_us);
gboolean ew_live_values_fresh(const struct ew_live_values *values, gint64 now_us); /* any of them */
/* "fresh", "age_s" since the newest sample, "every_s" the shortest usual wait, and "values" in SI by key. */
void ew_live_values_write_json(const struct ew_live_values *values, gint64 now_us,
                               struct ew_json *json);
