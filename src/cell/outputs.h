/* What a shut-down request drives: a line back to the source, a Modbus coil, a GPIO line, a file.
 *
 *              ask                        every output done
 *   IDLE ----------------> ASKING ----------------------------> ASKED
 *     ^                     |  ^                                  |
 *     |                     |  +--- ask, or other outputs --------+
 *     +----- withdraw ------+-------------------------------------+
 *
 * and of each output, while ASKING:
 *
 *   WAITS --(all before it were tried, its condition is met)--> TRYING --> DONE
 *                                                                 ^  |
 *                                              after RETRY_S      |  v
 *                                                                FAILED (told once)
 *
 * Invariants, asserted at each entry:
 *   - IDLE: every output WAITS and none was tried;
 *   - an output that was tried has only tried ones before it: the order is the list's;
 *   - ASKED: every output is DONE;
 *   - an answer to an earlier asking changes nothing.
 *
 * Each ask begins the whole list again, also while an earlier one is still at work or is done: the
 * outputs say the same a second time, and no trip goes without its request. An output that fails holds
 * up no other, is reported once, and is tried again until it is done or a person withdraws the request.
 * One that takes the load off waits for speed to be down; a speed that is not known is never down.
 * Coils, lines and files are driven by a thread of their own, so that a silent bus delays no alarm.
 * This asks; it is not a safety device. */
#pragma once
#include "base/message.h"
#include "cell/alarm_spec.h"

enum ew_request { EW_REQUEST_IDLE, EW_REQUEST_ASKING, EW_REQUEST_ASKED };

struct ew_outputs;
/* done FALSE: it could not be done, and `why` says why. Called from the thread that calls the functions
 * below, never from the outputs' own. */
typedef void (*ew_output_says)(const char *name, gboolean done, const ew_message *why,
                               gpointer user);
typedef gboolean (*ew_output_send)(const char *line, gpointer user);

struct ew_outputs *ew_outputs_new(ew_output_send send, ew_output_says says, gpointer user);
/* Waits for what is being tried; what was asked for and never done is reported as not done. */
void ew_outputs_free(struct ew_outputs *outputs);
/* These outputs from now on (struct ew_output_spec; takes a reference). An active request begins
 * again with them. */
void ew_outputs_use(struct ew_outputs *outputs, GArray *list);
/* A shut-down was asked for: the list begins, again if need be. */
void ew_outputs_ask(struct ew_outputs *outputs);
/* Does what is due now. `now_s` rises with real time; `speed_rpm` NaN: not known. */
void ew_outputs_step(struct ew_outputs *outputs, double now_s, double speed_rpm);
/* A person has cleared what asked: nothing more is tried. */
void ew_outputs_withdraw(struct ew_outputs *outputs);
enum ew_request ew_outputs_state(const struct ew_outputs *outputs);
