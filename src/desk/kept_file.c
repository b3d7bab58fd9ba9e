/* Figures kept by what they depend on: see kept_file.h.
 *
 * Figures stay in the file: what is held of a record is sixteen bytes, a hash of its key and where its line begins, in a table that is
 * doubled when three of four places are taken. A hash that matches is believed when the line there is whole, has its check and that key.
 *
 * `read_to` is how far the file was read; everything before it is whole lines and in the table. Whoever holds
 * the lock for writing reads on from there first, so the table is complete when it decides what is new. A tail
 * without its newline can only be of a writer that died (the lock is ours): it is cut off before writing. */
#include "desk/kept_file.h"
#include "base/error.h"
#include "base/number.h"
#include "cycle/model.h"
#include "desk/kept_lines.h"
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#define PLACES_FIRST 1024
#define TAKEN        ((guint64)1 << 63)

struct place {
  guint64 mark; /* of the key */
  guint64
      at; /* where its line begins, and TAKEN: asked for, and found; 0: empty, as the head stands there */
};

struct ew_kept_file {
  char *path;
  const char *option, *head;
  int file;
  gint64 read_to;
  struct place *place;
  gsize places, used; /* places: a power of two */
  GString *line;      /* the one that was looked at last */
  GError *refusal;    /* of the first line, while it is read */
  struct ew_kept_counts counts;
};

/* ---- the table ---- */

/* FNV-1a, 64 bits: G. Fowler, L. C. Noll, K.-P. Vo, D. Eastlake, draft-eastlake-fnv. */
static guint64 mark_of(const char *key, gsize letters) {
  guint64 mark = 0xcbf29ce484222325u;
  for (gsize i = 0; i < letters; i++)
    mark = (mark ^ (guchar)key[i]) * 0x100000001b3u;
  return mark;
}

/* Whether the line of a place has this key; it is in k->line then. */
static gboolean has_key(struct ew_kept_file *k, const struct place *p, const char *key,
                        gsize letters) {
  const char *own;
  gsize own_letters;
  return ew_kept_line_at(k->file, (gint64)(p->at & ~TAKEN), k->line) &&
         ew_kept_line_kind(k->line->str, k->line->len, &own, &own_letters) == EW_KEPT_COUNTS &&
         own_letters == letters && memcmp(own, key, letters) == 0;
}

/* Its place, or the empty one where it would be. */
static struct place *place_of(struct ew_kept_file *k, const char *key, gsize letters) {
  guint64 mark = mark_of(key, letters);
  gsize i = mark & (k->places - 1);
  g_assert(k->used < k->places);
  k->counts.look_ups++;
  while (k->place[i].at && !(k->place[i].mark == mark && has_key(k, &k->place[i], key, letters)))
    i = (i + 1) & (k->places - 1);
  k->place[i].mark = mark;
  return &k->place[i];
}

static void grow(struct ew_kept_file *k) {
  g_autofree struct place *was = k->place;
  gsize places = k->places;
  k->places = places ? 2 * places : PLACES_FIRST;
  k->place = g_new0(struct place, k->places);
  for (gsize j = 0; j < places; j++) {
    gsize i = was[j].mark & (k->places - 1);
    if (!was[j].at)
      continue;
    while (k->place[i].at)
      i = (i + 1) & (k->places - 1);
    k->place[i] = was[j];
  }
}

/* ---- read ---- */

static gboolean parse(const char *text, double *value) {
  if (strcmp(text, "null") == 0) {
    *value = NAN;
    return TRUE;
  }
  return ew_number_parse(text, value);
}

/* Of a line that counts, into figure[most]: how many there are (more than `most` are counted and not set); 0: none, or not numbers. */
static int figures_in(const char *line, gsize length, double *figure, int most) {
  g_autofree char *own = g_strndup(line, length - EW_KEPT_CHECK - 1);
  g_auto(GStrv) cells = g_strsplit(own, "\t", -1);
  int n = 0;
  for (char **cell = cells; *cell; cell++) {
    double value;
    if (cell - cells < EW_KEPT_FIXED)
      continue;
    if (!parse(*cell, &value))
      return 0;
    if (n < most)
      figure[n] = value;
    n++;
  }
  return n;
}

static void take_line(struct ew_kept_file *k, const char *line, gsize length, gint64 at) {
  const char *key;
  gsize letters;
  enum ew_kept_kind kind = ew_kept_line_kind(line, length, &key, &letters);
  if (kind == EW_KEPT_OLDER) {
    k->counts.older++;
    return;
  }
  if (kind == EW_KEPT_DAMAGED || figures_in(line, length, NULL, 0) == 0) {
    k->counts.damaged++;
    return;
  }
  k->counts.records++;
  if (4 * (k->used + 1) > 3 * k->places)
    grow(k);
  struct place *p = place_of(k, key, letters);
  k->used += !p->at;
  p->at = (guint64)at | (p->at & TAKEN); /* a later one of the same key is what counts */
}

static gboolean failed(const struct ew_kept_file *k, const char *what, GError **error) {
  return ew_fail(error, "%s %s: cannot be %s: %s", k->option, k->path, what, g_strerror(errno));
}

static gboolean read_line(char *line, gsize length, gint64 at, gpointer data) {
  struct ew_kept_file *k = data;
  if (at == 0 && strcmp(line, k->head) != 0)
    return ew_refuse(&k->refusal,
                     "%s %s: this file does not begin with '%s': it holds something else; "
                     "name another file",
                     k->option, k->path, k->head);
  if (at > 0)
    take_line(k, line, length, at);
  return TRUE;
}

/* Whole lines behind read_to, under a lock. *size is that of the file. */
static gboolean read_on(struct ew_kept_file *k, gint64 *size, GError **error) {
  gboolean stopped;
  *size = lseek(k->file, 0, SEEK_END);
  if (*size < k->read_to)
    return *size < 0 ? failed(k, "read", error)
                     : ew_refuse(error, "%s %s: it has become shorter; name another file",
                                 k->option, k->path);
  if (!ew_kept_lines_read(k->file, k->read_to, *size, read_line, k, &k->read_to, &stopped)) {
    if (!stopped)
      return failed(k, "read", error);
    g_propagate_error(error, g_steal_pointer(&k->refusal));
    return FALSE;
  }
  k->counts.torn |= k->read_to < *size;
  g_assert(k->read_to <= *size);
  return TRUE;
}

/* ---- opened and closed ---- */

static gboolean lock(const struct ew_kept_file *k, int how, GError **error) {
  while (flock(k->file, how) != 0)
    if (errno != EINTR)
      return failed(k, "locked", error);
  return TRUE;
}

static gboolean write_all(struct ew_kept_file *k, const char *text, gsize count, GError **error) {
  while (count > 0) {
    gssize n = write(k->file, text, count);
    if (n < 0 && errno == EINTR)
      continue;
    if (n <= 0)
      return failed(k, "written", error);
    text += n;
    count -= (gsize)n;
  }
  return fdatasync(k->file) == 0 || failed(k, "written", error);
}

/* Under the lock: what others added, a torn tail cut off, the first line of a new file. */
static gboolean make_ready(struct ew_kept_file *k, GError **error) {
  gint64 size;
  if (!read_on(k, &size, error))
    return FALSE;
  if (k->read_to == 0 && size > 0) { /* a first line that was torn off, or somebody else's file */
    gsize head = strlen(k->head), count = MIN((gsize)size, head);
    g_autofree char *begins = g_malloc0(head + 1);
    if (pread(k->file, begins, count, 0) != (gssize)count)
      return failed(k, "read", error);
    if (strncmp(begins, k->head, count) != 0 || (gsize)size > head)
      return ew_refuse(error, "%s %s: this file holds something else; name another file", k->option,
                       k->path);
  }
  if (size > k->read_to && ftruncate(k->file, k->read_to) != 0)
    return failed(k, "written", error);
  if (k->read_to > 0)
    return TRUE;
  g_assert(k->read_to == 0); /* nothing but a torn first line was there */
  g_autofree char *line = g_strconcat(k->head, "\n", NULL);
  if (!write_all(k, line, strlen(line), error))
    return FALSE;
  k->read_to = (gint64)strlen(line);
  return TRUE;
}

struct ew_kept_file *ew_kept_file_open(const char *path, const char *option, const char *head,
                                       GError **error) {
  struct ew_kept_file *k = g_new0(struct ew_kept_file, 1);
  k->path = g_strdup(path);
  k->option = option;
  k->head = head;
  k->line = g_string_new(NULL);
  grow(k);
  k->file = open(path, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
  gboolean good = k->file >= 0;
  if (!good)
    ew_refuse(error, "%s %s: cannot be opened: %s; name a file that can be written", option, path,
              g_strerror(errno));
  struct stat about;
  if (good && (fstat(k->file, &about) != 0 || !S_ISREG(about.st_mode)))
    good = ew_refuse(error, "%s %s: not a regular file; name another", option, path);
  if (good && lock(k, LOCK_EX, error)) {
    good = make_ready(k, error);
    flock(k->file, LOCK_UN);
  } else {
    good = FALSE;
  }
  if (good)
    return k;
  ew_kept_file_close(k);
  return NULL;
}

void ew_kept_file_close(struct ew_kept_file *k) {
  if (!k)
    return;
  if (k->file >= 0)
    close(k->file);
  g_string_free(k->line, TRUE);
  g_free(k->place);
  g_free(k->path);
  g_free(k);
}

gboolean ew_kept_file_find(struct ew_kept_file *k, const char *key, int count, double *figures) {
  g_assert(count > 0);
  struct place *p = place_of(k, key, strlen(key));
  if (!p->at || figures_in(k->line->str, k->line->len, figures, count) != count)
    return FALSE;
  k->counts.taken += !(p->at & TAKEN);
  p->at |= TAKEN;
  return TRUE;
}

struct ew_kept_counts ew_kept_file_count(const struct ew_kept_file *k) {
  return k->counts;
}

/* ---- added ---- */

static void append_row(GString *text, const struct ew_kept_line *row) {
  g_assert(row->key && !strpbrk(row->key, "\t\n"));
  char buffer[EW_NUMBER_SIZE], check[EW_KEPT_CHECK + 1];
  gsize from = text->len;
  g_autofree char *says = g_strescape(row->text, NULL);
  g_string_append_printf(text, EW_KEPT_FORM "\t%s\t%d\t%s", row->key, EW_CYCLE_PHYSICS, says);
  for (int i = 0; i < row->count; i++)
    g_string_append_printf(text, "\t%s", ew_number_write(row->figures[i], buffer));
  ew_kept_check_of(text->str + from, text->len - from, check);
  g_string_append_printf(text, "\t%s\n", check);
}

char *ew_kept_line_write(const struct ew_kept_line *row) {
  GString *text = g_string_new(NULL);
  append_row(text, row);
  g_string_truncate(text, text->len - 1);
  return g_string_free(text, FALSE);
}

static gboolean append_new(struct ew_kept_file *k, const struct ew_kept_line *rows, int n,
                           GError **error) {
  g_autoptr(GString) text = g_string_new(NULL);
  gint64 size;
  if (!make_ready(k, error))
    return FALSE;
  for (int i = 0; i < n; i++)
    if (!place_of(k, rows[i].key, strlen(rows[i].key))->at)
      append_row(text, &rows[i]);
  return write_all(k, text->str, text->len, error) && read_on(k, &size, error);
}

gboolean ew_kept_file_add(struct ew_kept_file *k, const struct ew_kept_line *rows, int n,
                          GError **error) {
  if (!lock(k, LOCK_EX, error))
    return FALSE;
  gboolean good = append_new(k, rows, n, error);
  flock(k->file, LOCK_UN);
  return good;
}
