/* Lines of files of kept runs (kept_file.h), read where they stand: a file of any length takes the memory of one block of it, or of one line.
 * Inside this room. */
#pragma once
#include <glib.h>

#define EW_KEPT_FORM  "1"
#define EW_KEPT_FIXED 4  /* form, key, physics, text */
#define EW_KEPT_CHECK 16 /* letters of the last column */

/* A whole line without its newline, NUL behind it; at: where it begins in the file. FALSE: no more. */
typedef gboolean (*ew_kept_each)(char *line, gsize length, gint64 at, gpointer data);

/* Whole lines of [from, to) in order, a block at a time. *read_to: behind the last one that was handed on. FALSE with errno: it cannot be
 * read, or ends before `to` (errno 0); FALSE, too, when `each` said so (*stopped). */
gboolean ew_kept_lines_read(int file, gint64 from, gint64 to, ew_kept_each each, gpointer data,
                            gint64 *read_to, gboolean *stopped);
/* The line that begins at `at`, without its newline, into `line`. FALSE: it cannot be read, or is not whole. */
gboolean ew_kept_line_at(int file, gint64 at, GString *line);

enum ew_kept_kind { EW_KEPT_COUNTS, EW_KEPT_OLDER, EW_KEPT_DAMAGED };
/* Of a whole line; key[letters] within it where it counts. */
enum ew_kept_kind ew_kept_line_kind(const char *line, gsize length, const char **key,
                                    gsize *letters);
/* The check of line[length], as its last column has it. */
void ew_kept_check_of(const char *line, gsize length, char check[EW_KEPT_CHECK + 1]);
