/* Figures kept by what they depend on, in a file that only grows: a long work that is stopped goes on where it was.
 *
 *   # enginewright ... 1                              the first line; a file without it is refused
 *   1 <key> <physics> <text> <figures> <check>        one record a line, columns apart by tabs
 *
 * The key is a digest of all that the figures depend on; the text is for people. A record counts when its check (of the line
 * before it) matches and its physics are this program's; a last line that was torn off is dropped; others are left where they
 * are, and counted so that it can be said.
 *
 * Several programs may share a file: reading and writing take a lock (flock), writers first read what the
 * others added, and no key is written twice. What is added is on the disk when ew_kept_file_add returns.
 *
 * Cost: opening reads the file once; finding is one look-up and reads one line; adding writes what is added and nothing else. Memory: 21 to
 * 43 bytes a record, whatever it says. */
#pragma once
#include <glib.h>

struct ew_kept_file;

/* NULL with an error, which names the option, when the file cannot be opened, or is something else. It is made when there is none.
 * `option` and `head` (its first line) are kept: static. */
struct ew_kept_file *ew_kept_file_open(const char *path, const char *option, const char *head,
                                       GError **error);
void ew_kept_file_close(struct ew_kept_file *keep);

/* figures[count], which may be NaN, are set; FALSE when there are none of this key and count: figures then are not to be read. */
gboolean ew_kept_file_find(struct ew_kept_file *keep, const char *key, int count, double *figures);

struct ew_kept_line {
  const char *key, *text;
  const double *figures;
  int count;
};
gboolean ew_kept_file_add(struct ew_kept_file *keep, const struct ew_kept_line *rows, int n,
                          GError **error);

/* As it stands in the file, without its newline; g_free. */
char *ew_kept_line_write(const struct ew_kept_line *row);

struct ew_kept_counts {
  gint64 records, taken; /* that count; of those, found by this work */
  gint64 older, damaged; /* of other physics or another form; that do not match their check */
  gint64 look_ups;       /* in the table of keys, by finding, reading and adding */
  gboolean torn;         /* a last line was not whole */
};
struct ew_kept_counts ew_kept_file_count(const struct ew_kept_file *keep);
