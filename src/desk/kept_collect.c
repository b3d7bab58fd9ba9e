/* Collecting: lines are taken as they are, so that what was written once is written again with the same bytes. See kept_collect.h;
 * what a line is: kept_file.h.
 *
 *   each file -> its lines that count, by the first letters of their keys and where they stand -> sorted, by what stands there where letters are the
 *   same -> written one by one beside the file that they become
 *
 * Lines stay in their files: 32 bytes are held of each. */
#include "desk/kept_collect.h"
#include "base/error.h"
#include "desk/kept_lines.h"
#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define OPEN_MOST 64

struct record {
  guint64 letters[2]; /* the key's first sixteen, in the order of strcmp */
  gint64 at;
  int file;
};

struct collecting {
  char *const *files;
  const char *head;
  struct ew_kept_collected *counts;
  int now; /* file that is read */
  GArray *records;
  struct {
    int number, file; /* which it is, and what it is open as; -1: none */
  } open[OPEN_MOST];
  GString *one, *other; /* lines */
  GError **error;       /* first of all that went wrong; sorting goes on without sense then */
  gboolean bad;
};

static gboolean went_wrong(struct collecting *c, int file) {
  int why = errno;
  if (c->bad)
    return FALSE;
  c->bad = TRUE;
  return why ? ew_refuse(c->error, "%s: cannot be read: %s", c->files[file], g_strerror(why))
             : ew_refuse(c->error, "%s: it was altered while it was read; collect again",
                         c->files[file]);
}

/* A file for reading, -1 with errno; it stays open until another takes its place. */
static int opened(struct collecting *c, int number) {
  int slot = number % OPEN_MOST;
  if (c->open[slot].number == number && c->open[slot].file >= 0)
    return c->open[slot].file;
  if (c->open[slot].file >= 0)
    close(c->open[slot].file);
  c->open[slot].number = number;
  c->open[slot].file = open(c->files[number], O_RDONLY | O_CLOEXEC);
  return c->open[slot].file;
}

/* ---- read ---- */

static void letters_of(const char *key, gsize count, guint64 letters[2]) {
  for (gsize i = 0; i < 16; i++)
    letters[i / 8] = letters[i / 8] << 8 | (i < count ? (guchar)key[i] : 0);
}

static gboolean take_line(char *line, gsize length, gint64 at, gpointer data) {
  struct collecting *c = data;
  struct record record = {.at = at, .file = c->now};
  const char *key;
  gsize letters;
  if (at == 0) /* the first line was looked at */
    return TRUE;
  switch (ew_kept_line_kind(line, length, &key, &letters)) {
  case EW_KEPT_OLDER: c->counts->older++; break;
  case EW_KEPT_DAMAGED: c->counts->damaged++; break;
  case EW_KEPT_COUNTS:
    letters_of(key, letters, record.letters);
    g_array_append_val(c->records, record);
    break;
  }
  return TRUE;
}

/* What the file begins with, with its newline, is the head: 1; it is empty: 0; it is something else: -1; it cannot be read: -2. */
static int begins(int file, const char *head) {
  gsize length = strlen(head);
  g_autofree char *first = g_malloc0(length + 1);
  gssize n = pread(file, first, length + 1, 0);
  if (n < 0)
    return -2;
  if (n == 0)
    return 0;
  return n == (gssize)length + 1 && first[length] == '\n' && memcmp(first, head, length) == 0 ? 1
                                                                                              : -1;
}

static gboolean take_file(struct collecting *c, int number) {
  int file = opened(c, number), first = file >= 0 ? begins(file, c->head) : -2;
  gint64 size = file >= 0 ? lseek(file, 0, SEEK_END) : -1, read_to = 0;
  gboolean stopped;
  c->now = number;
  if (first == -2 || size < 0)
    return ew_refuse(c->error, "%s: cannot be read: %s", c->files[number], g_strerror(errno));
  if (first == -1)
    return ew_refuse(c->error, "%s does not begin with '%s': it holds something else",
                     c->files[number], c->head);
  if (first == 0) /* a worker that died before its first word */
    return TRUE;
  if (!ew_kept_lines_read(file, 0, size, take_line, c, &read_to, &stopped))
    return went_wrong(c, number);
  c->counts->damaged += read_to < size; /* torn off when its worker died */
  return TRUE;
}

/* ---- sorted ---- */

static gboolean line_of(struct collecting *c, const struct record *r, GString *line) {
  int file = opened(c, r->file);
  errno = 0;
  return (file >= 0 && ew_kept_line_at(file, r->at, line)) || went_wrong(c, r->file);
}

static int by_key_of(const GString *a, const GString *b) {
  const char *key[2] = {"", ""};
  gsize letters[2] = {0, 0};
  ew_kept_line_kind(a->str, a->len, &key[0], &letters[0]);
  ew_kept_line_kind(b->str, b->len, &key[1], &letters[1]);
  int order = memcmp(key[0], key[1], MIN(letters[0], letters[1]));
  return order ? order : (letters[0] > letters[1]) - (letters[0] < letters[1]);
}

static int by_key(gconstpointer a, gconstpointer b, gpointer data) {
  const struct record *x = a, *y = b;
  struct collecting *c = data;
  for (int i = 0; i < 2; i++)
    if (x->letters[i] != y->letters[i])
      return x->letters[i] < y->letters[i] ? -1 : 1;
  int order =
      !c->bad && line_of(c, x, c->one) && line_of(c, y, c->other) ? by_key_of(c->one, c->other) : 0;
  if (order)
    return order;
  if (x->file != y->file)
    return x->file < y->file ? -1 : 1;
  return (x->at > y->at) - (x->at < y->at);
}

/* ---- written ---- */

/* Each key once; c->other has the line before. FALSE: unlike figures, or the disk. */
static gboolean write_lines(struct collecting *c, FILE *to, const char *into) {
  const struct record *before = NULL;
  fprintf(to, "%s\n", c->head);
  for (guint i = 0; i < c->records->len; i++) {
    const struct record *r = &g_array_index(c->records, struct record, i);
    if (!line_of(c, r, c->one))
      return FALSE;
    gboolean known = before && by_key_of(c->one, c->other) == 0;
    if (known && !g_string_equal(c->one, c->other)) {
      const char *key = "";
      gsize letters = 0;
      ew_kept_line_kind(c->one->str, c->one->len, &key, &letters);
      g_autofree char *own = g_strndup(key, letters);
      return ew_refuse(
          c->error,
          "%s and %s have unlike figures for the same run (%.12s...): one of the workers "
          "ran another program; leave its file out",
          c->files[before->file], c->files[r->file], own);
    }
    c->counts->twice += known;
    if (known)
      continue;
    c->counts->records++;
    if (fprintf(to, "%s\n", c->one->str) < 0)
      break;
    GString *held = c->other;
    c->other = c->one;
    c->one = held;
    before = r;
  }
  return (fflush(to) == 0 && !ferror(to) && fsync(fileno(to)) == 0) ||
         ew_refuse(c->error, "%s: cannot be written: %s", into, g_strerror(errno));
}

static gboolean write_sorted(struct collecting *c, const char *into) {
  g_autofree char *part = g_strdup_printf("%s.XXXXXX", into);
  int file = g_mkstemp_full(part, O_RDWR | O_CLOEXEC, 0666);
  FILE *to = file >= 0 ? fdopen(file, "w") : NULL;
  if (!to)
    return ew_refuse(c->error, "%s: cannot be written: %s", into, g_strerror(errno));
  gboolean good = write_lines(c, to, into);
  fclose(to); /* what could fail was asked above */
  if (good && g_rename(part, into) != 0)
    good = ew_refuse(c->error, "%s: cannot be written: %s", into, g_strerror(errno));
  if (!good)
    g_unlink(part);
  return good;
}

static gboolean holds_something_else(const char *into, const char *head) {
  int file = open(into, O_RDONLY | O_CLOEXEC), first = 0;
  if (file >= 0) {
    first = begins(file, head);
    close(file);
  }
  return first == -1;
}

gboolean ew_kept_collect(char *const *files, int n, const char *into, const char *head,
                         struct ew_kept_collected *counts, GError **error) {
  g_autoptr(GArray) records = g_array_new(FALSE, FALSE, sizeof(struct record));
  struct collecting c = {.files = files,
                         .head = head,
                         .counts = counts,
                         .records = records,
                         .one = g_string_new(NULL),
                         .other = g_string_new(NULL),
                         .error = error};
  for (int i = 0; i < OPEN_MOST; i++)
    c.open[i].file = -1;
  *counts = (struct ew_kept_collected){0};
  gboolean good =
      !holds_something_else(into, head) ||
      ew_refuse(error, "%s holds something else: name another file to collect into", into);
  for (int i = 0; good && i < n; i++)
    good = take_file(&c, i);
  if (good)
    g_array_sort_with_data(records, by_key, &c);
  good = good && !c.bad && write_sorted(&c, into);
  for (int i = 0; i < OPEN_MOST; i++)
    if (c.open[i].file >= 0)
      close(c.open[i].file);
  g_string_free(c.one, TRUE);
  g_string_free(c.other, TRUE);
  return good;
}
