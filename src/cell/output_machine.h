/* Whose outputs a shut-down drives: this machine's, never a book's. They are kept in a file of whoever runs
 * the program, that nobody else may read or write, and get there only by being confirmed with what they
 * will do. A table of alarms may name outputs; they are not used.
 *
 * Without the file a shut-down asks for the usual two lines, which go only to sources that were named with
 * control=yes, and to the practice cell. Practice and replay have no others. */
#pragma once
#include "cell/alarm_spec.h"

extern const char ew_outputs_usual[]; /* YAML: the usual outputs and the heartbeat */

char *ew_outputs_path(void); /* $XDG_CONFIG_HOME/enginewright/outputs.yaml; the caller frees it */
/* The outputs and the heartbeat in a text. Refuses alarms there, and a file output that is not named by
 * its whole path. */
struct ew_alarm_table *ew_outputs_parse(const char *text, const char *where, GError **error);
/* This machine's, else the usual ones; *from says which, and is freed by the caller. Refuses a file that is
 * a link, not regular, another user's, or open to others. */
struct ew_alarm_table *ew_outputs_of_machine(char **from, GError **error);
/* Makes the text this machine's. Its folder is made, its file replaced whole, with mode 0600. */
gboolean ew_outputs_keep(const char *text, GError **error);
gboolean ew_outputs_forget(GError **error); /* good when there is none */
/* What one will do, in words; the caller frees it. */
char *ew_output_does(const struct ew_output_spec *spec);
