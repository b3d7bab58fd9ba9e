/* The shipper beside the work: a thread with its own connections to book and shop. The cell never waits for it: it reads the book as
 * any reader does, and what it writes (what the shop has) is a short transaction after something was sent.
 *
 *   rests --PERIOD_S--> connects --> sends --> rests
 *     ^                    | no answer, lost    |
 *     +--- longer each time, LONGEST_S at most -+
 *
 * What is refused (password, schema, two digests) is said aloud once and tried again as rarely as what does not answer. */
#pragma once
#include <glib.h>

struct ew_shipper;
/* Says, from the thread, each time it becomes another: NULL: all is there. */
typedef void (*ew_shipper_says)(const char *trouble, gpointer user);
/* NULL when the book at `path` sends to no shop. */
struct ew_shipper *ew_shipper_start(const char *path, ew_shipper_says says, gpointer user);
void ew_shipper_stop(
    struct ew_shipper *shipper); /* may be NULL; within a second, but for a resolver that hangs */
