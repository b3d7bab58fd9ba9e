/* What a person says of the set-up while a session runs, for the pulls that begin from then on.
 *
 *   SAID --next pull is cut--> with that pull --a pull of it is kept--> carried forward by the book like any set-up
 *                                   |
 *                                   +--no pull was found in it, or the session ended--> SAID again, also for the next session
 *
 * Nothing of it changes a pull that is under way or over: the control line takes it between pulls only. */
#pragma once
#include <glib.h>

/* A list of "name=value", one a field: what was said last of a field counts. */
struct ew_said {
  GPtrArray *sets; /* char*; NULL: nothing said */
  char *changed;   /* one line in words; NULL: nothing said */
};

/* Checks one "name=value" against the table of set-ups and adds it; a value of a field said before is replaced.
 * FALSE with *error: nothing is changed. */
gboolean ew_said_set(struct ew_said *said, const char *set, GError **error);
void ew_said_changed(struct ew_said *said, const char *text);
/* All of `from` over what `into` says; `from` is empty then. */
void ew_said_move(struct ew_said *from, struct ew_said *into);
/* Drops from `sets` (char*) the fields that `said` says again. */
void ew_said_drop(const struct ew_said *said, GPtrArray *sets);
/* As one text of lines, and back; NULL: nothing said. What can't be read any more is left out. */
char *ew_said_write(const struct ew_said *said);
void ew_said_read(const char *text, struct ew_said *said);
/* Drops what `used` (as written) says word for word: what was said of the same field since stays. */
void ew_said_used(struct ew_said *said, const char *used);
/* Drops what was said of the field of this "name=value". */
void ew_said_forget(struct ew_said *said, const char *set);
gboolean ew_said_anything(const struct ew_said *said);
void ew_said_clear(struct ew_said *said);
