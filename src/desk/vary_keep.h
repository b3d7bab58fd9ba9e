/* Answers about variants, kept in a file that only grows: a search that is stopped goes on where it was.
 *
 *   # enginewright variants 1                         the first line; a file without it is refused
 *   1 <key> <physics> <text> <figures> <torques> <check>      one record a line, columns apart by tabs
 *
 * The key is a digest of all that the answer depends on (ew_vary_key); the text is for people. A record
 * counts when its check (of the line before it) matches and its physics are this program's; a last line
 * that was torn off is dropped; others are left where they are, and counted so that it can be said.
 *
 * Several programs may share a file: reading and writing take a lock (flock), writers first read what the
 * others added, and no key is written twice. What is added is on the disk when ew_vary_keep_add returns.
 *
 * Cost: opening reads the file once; finding is one look-up; adding writes what is added and nothing else. */
#pragma once
#include <glib.h>

struct ew_kept_answer {
  double lower, upper, lower_u, upper_u, worst_knock, octane; /* of struct ew_variant; may be NaN */
  gboolean converged;
  int speeds;
  double *torque_n_m; /* [speeds] */
};

struct ew_vary_keep;

/* NULL with an error when the file cannot be opened, or is something else. It is made when there is none. */
struct ew_vary_keep *ew_vary_keep_open(const char *path, GError **error);
void ew_vary_keep_close(struct ew_vary_keep *keep);

/* NULL when there is none for this key and number of speeds. It stays the keep's, until that is closed. */
const struct ew_kept_answer *ew_vary_keep_find(struct ew_vary_keep *keep, const char *key,
                                               int speeds);

struct ew_kept_row {
  const char *key, *text;
  struct ew_kept_answer answer;
};
gboolean ew_vary_keep_add(struct ew_vary_keep *keep, const struct ew_kept_row *rows, int n,
                          GError **error);

struct ew_vary_keep_counts {
  gint64 records, taken; /* that count; of those, found by this search */
  gint64 older, damaged; /* of other physics or another form; that do not match their check */
  gint64 look_ups;       /* in the table of keys, by finding, reading and adding */
  gboolean torn;         /* a last line was not whole */
};
struct ew_vary_keep_counts ew_vary_keep_count(const struct ew_vary_keep *keep);
