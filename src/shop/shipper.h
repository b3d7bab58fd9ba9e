/* The shipper beside the work, in either direction: what a cell's book wrote goes to its shop, and what came to a shop goes into a copy
 * that somebody has open to read. A thread with its own connections to book and shop. The cell never waits for it: it reads the book as
 * any reader does, and what it writes (what the shop has) is a short transaction after something was sent.
 *
 *   belongs to no shop --looks each WAITS_S: 'book join' was run--+
 *                                                                 v
 *                                     rests --PERIOD_S--> connects --> sends --> rests
 *                                       ^                    | no answer, lost    |
 *                                       +--- longer each time, LONGEST_S at most -+
 *
 * What is refused (password, schema, two digests) is said aloud once and tried again as rarely as what does not answer. */
#pragma once
#include <glib.h>

/* What became of the last round. */
enum ew_shipper_answer {
  EW_SHIPPER_NOT_ASKED, /* the book belongs to no shop, or nobody has answered yet */
  EW_SHIPPER_ALL_THERE,
  EW_SHIPPER_NO_ANSWER, /* trying again may help */
  EW_SHIPPER_REFUSED    /* a person must do something */
};

struct ew_shipper;
/* Says, from the thread, each time it becomes another: NULL: all is there. */
typedef void (*ew_shipper_says)(const char *trouble, gpointer user);
/* The book at `path` need not be there yet, nor belong to a shop. Never NULL. */
struct ew_shipper *ew_shipper_start(const char *path, ew_shipper_says says, gpointer user);
/* The other way: `path` is a copy of what the shop at `given` ("postgresql://host/db#Cell 1") holds, and goes on from where it is
 * every few seconds. It stays one file: where the shop went on apart from it, that is refused, and whoever reads begins again. */
struct ew_shipper *ew_shipper_start_reading(const char *given, const char *path,
                                            ew_shipper_says says, gpointer user);
/* From any thread. *trouble, freed by the caller: what went wrong, in the program's language; NULL where nothing did. */
enum ew_shipper_answer ew_shipper_last(struct ew_shipper *shipper, char **trouble);
void ew_shipper_stop(
    struct ew_shipper *shipper); /* may be NULL; within a second, but for a resolver that hangs */
