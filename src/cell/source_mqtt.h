/* What the MQTT client's thread does with a message, for the client and for tests. */
#pragma once
#include "cell/source.h"

/* `retained`: the broker kept it from before, perhaps from a sender that is long gone. `now_s`: when it
 * came, of ew_monotonic_s(). */
void ew_source_mqtt_message(struct ew_source *source, const char *topic, const void *payload,
                            gsize size, gboolean retained, double now_s);
