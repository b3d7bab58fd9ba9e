/* How one output is driven: what may wait for a bus or a reader, for the outputs' own thread. */
#pragma once
#include "cell/alarm_spec.h"
#include "cell/output_gpio.h"

/* A coil, a GPIO line or a file of the list; not a line back to the source. NULL when it was done, else
 * why not; the caller frees it. `lines` holds what GPIO lines are held. */
ew_message *ew_output_drive(const struct ew_output_spec *spec, struct ew_gpio_lines *lines);
