/* What a shut-down request drives: a line back to the source, a Modbus coil, a GPIO line, a file.
 *
 * The outputs are done once, in the order of the table, each when its condition is met; one that takes
 * the load off waits for speed to be down, and a speed that is not known is never down. Coils and
 * files are driven by a thread of their own, so that a silent bus delays no alarm. Nothing here
 * starts again by itself. This asks; it is no safety device. */
#pragma once
#include "cell/alarm_spec.h"

struct ew_outputs;
/* done FALSE: it could not be done, and `why` says so. Called from the thread of ew_outputs_step for
 * lines, from the outputs' own for the others. */
typedef void (*ew_output_says)(const char *name, gboolean done, const char *why, gpointer user);
typedef gboolean (*ew_output_send)(const char *line, gpointer user);

struct ew_outputs *ew_outputs_new(ew_output_send send, ew_output_says says, gpointer user);
void ew_outputs_free(struct ew_outputs *outputs);
/* A shut-down was asked for. Nothing when it is under way already. */
void ew_outputs_ask(struct ew_outputs *outputs);
/* Does what is due now. `speed_rpm` NaN: not known. `table` owns the list. */
void ew_outputs_step(struct ew_outputs *outputs, const struct ew_alarm_table *table,
                     double speed_rpm);
/* A person has cleared every alarm: the next shut-down begins anew. */
void ew_outputs_reset(struct ew_outputs *outputs);
