/* What the MQTT client's thread does with a message, for the client and for tests. */
#pragma once
#include "cell/source.h"

void ew_source_mqtt_message(struct ew_source *source, const char *topic, const void *payload,
                            gsize size);
