/* What a screen shows of the alarms in force: their limits at this moment, taken from the alarms
 * themselves, so that screen and alarm cannot disagree.
 *
 * What stays the same while a table is in force (name, action, channel) goes to a page once; a frame
 * carries [state, low, high, value] of each, in the same order, and the number of the table. */
#pragma once
#include "base/json_writer.h"
#include "cell/alarm.h"

struct ew_live_bands; /* opaque; the caller guards it */
struct ew_live_bands *ew_live_bands_new(void);
void ew_live_bands_free(struct ew_live_bands *bands);

/* From the live thread, after each decision; takes a picture at most 20 times a second. */
gboolean ew_live_bands_due(const struct ew_live_bands *bands, double session_s);
void ew_live_bands_take(struct ew_live_bands *bands, struct ew_alarms *alarms, double session_s);
/* Nothing is watched any more. */
void ew_live_bands_reset(struct ew_live_bands *bands);

/* Whether an alarm of this name is latched in the last picture; one of several readings is enough. */
enum ew_latched { EW_LATCHED_UNKNOWN, EW_LATCHED_NO, EW_LATCHED_YES };
enum ew_latched ew_live_bands_latched(const struct ew_live_bands *bands, const char *name);

void ew_live_bands_write_frame(const struct ew_live_bands *bands, struct ew_json *json);
void ew_live_bands_write_table(const struct ew_live_bands *bands, struct ew_json *json);
/* Channels that a screen gives a place of their own, with the ends of their scale. */
void ew_live_gauges_write_json(struct ew_json *json);
