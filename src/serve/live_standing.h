/* Alarms that stand, as every page has to show them: each from its trip until a person clears it, also when its
 * session has ended meanwhile.
 *
 *   absent --news of the trip--> TOLD --the alarms say: latched--> SEEN
 *   TOLD --news of a clearing that leaves none standing--> absent
 *   SEEN --the same, or the alarms say: not latched--> absent
 *   TOLD, SEEN --the session ends--> ENDED --a person clears it--> absent
 *   any --news of its next trip--> TOLD
 *
 * News come from a thread of their own, before or after the picture of the alarms that shows the same: a trip
 * that no picture has shown yet is not taken for one that was cleared. */
#pragma once
#include "serve/live_bands.h"

struct ew_live_standing; /* opaque; the caller guards it */
struct ew_live_standing *ew_live_standing_new(void);
void ew_live_standing_free(struct ew_live_standing *standing);

/* News of event "alarm", as the recorder reported them; `message` (NULL: none) is copied. */
void ew_live_standing_hear(struct ew_live_standing *standing, const char *json,
                           const ew_message *message);
/* A new picture of the alarms was taken. */
void ew_live_standing_look(struct ew_live_standing *standing, const struct ew_live_bands *bands);
void ew_live_standing_end(struct ew_live_standing *standing);
/* A person clears what stood when a session ended, by name or "all". Returns how many were. */
guint ew_live_standing_clear_ended(struct ew_live_standing *standing, const char *name);

/* "standing": [{ name, action, says, text, at, ended }] */
void ew_live_standing_write_json(const struct ew_live_standing *standing, struct ew_json *json);
