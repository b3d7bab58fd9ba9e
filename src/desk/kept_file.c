/* Figures kept by what they depend on: see kept_file.h.
 *
 * `read_to` is how far the file was read; everything before it is whole lines and in the table. Whoever holds
 * the lock for writing reads on from there first, so the table is complete when it decides what is new. A tail
 * without its newline can only be of a writer that died (the lock is ours): it is cut off before writing. */
#include "desk/kept_file.h"
#include "base/error.h"
#include "base/number.h"
#include "cycle/model.h"
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#define FORM  "1"
#define FIXED 4 /* form, key, physics, text */
#define CHECK 16

/* One allocation a row: the key's letters come behind its figures. */
struct figures {
  int count;
  gboolean taken; /* asked for, and found */
  double figure[];
};

struct ew_kept_file {
  char *path;
  const char *option, *head;
  int file;
  gint64 read_to;
  GHashTable *answers; /* key (within it) to struct figures */
  struct ew_kept_counts counts;
};

static void check_of(const char *line, gsize length, char check[CHECK + 1]) {
  g_autofree char *sum =
      g_compute_checksum_for_data(G_CHECKSUM_SHA256, (const guchar *)line, length);
  g_strlcpy(check, sum, CHECK + 1);
}

/* ---- read ---- */

static gboolean parse(const char *text, double *value) {
  if (strcmp(text, "null") == 0) {
    *value = NAN;
    return TRUE;
  }
  return ew_number_parse(text, value);
}

static char *key_in(struct figures *f) {
  return (char *)(f->figure + f->count);
}

static struct figures *figures_of(char **cells, guint count) {
  int n = (int)count - FIXED;
  gsize letters = strlen(cells[1]) + 1;
  g_assert(n > 0);
  struct figures *f = g_malloc(sizeof *f + sizeof(double) * (gsize)n + letters);
  *f = (struct figures){.count = n};
  memcpy(key_in(f), cells[1], letters);
  for (int i = 0; i < n; i++)
    if (!parse(cells[FIXED + i], &f->figure[i])) {
      g_free(f);
      return NULL;
    }
  return f;
}

static void take_line(struct ew_kept_file *k, char *line) {
  char check[CHECK + 1], *last = strrchr(line, '\t');
  if (!last) {
    k->counts.damaged++;
    return;
  }
  check_of(line, (gsize)(last - line), check);
  if (strcmp(last + 1, check) != 0) {
    k->counts.damaged++;
    return;
  }
  *last = '\0';
  g_auto(GStrv) cells = g_strsplit(line, "\t", -1);
  g_autofree char *physics = g_strdup_printf("%d", EW_CYCLE_PHYSICS);
  guint count = g_strv_length(cells);
  if (count < FIXED || strcmp(cells[0], FORM) != 0 || strcmp(cells[2], physics) != 0) {
    k->counts.older++;
    return;
  }
  struct figures *answer = count > FIXED ? figures_of(cells, count) : NULL;
  if (!answer) {
    k->counts.damaged++;
    return;
  }
  k->counts.records++;
  k->counts.look_ups++;
  const struct figures *before = g_hash_table_lookup(k->answers, cells[1]);
  answer->taken = before && before->taken;
  g_hash_table_replace(k->answers, key_in(answer), answer);
}

static gboolean failed(const struct ew_kept_file *k, const char *what, GError **error) {
  return ew_fail(error, "%s %s: cannot be %s: %s", k->option, k->path, what, g_strerror(errno));
}

static gboolean read_all(const struct ew_kept_file *k, char *bytes, gsize count, GError **error) {
  gsize done = 0;
  while (done < count) {
    gssize n = pread(k->file, bytes + done, count - done, k->read_to + (gint64)done);
    if (n < 0 && errno == EINTR)
      continue;
    if (n <= 0)
      return failed(k, "read", error);
    done += (gsize)n;
  }
  g_assert(done == count);
  return TRUE;
}

/* Whole lines behind read_to, under a lock. *size is that of the file. */
static gboolean read_on(struct ew_kept_file *k, gint64 *size, GError **error) {
  *size = lseek(k->file, 0, SEEK_END);
  if (*size < k->read_to)
    return *size < 0 ? failed(k, "read", error)
                     : ew_refuse(error, "%s %s: it has become shorter; name another file",
                                 k->option, k->path);
  gsize count = (gsize)(*size - k->read_to);
  g_autofree char *bytes = g_malloc(count + 1);
  if (!read_all(k, bytes, count, error))
    return FALSE;
  char *line = bytes, *end;
  while ((end = memchr(line, '\n', count - (gsize)(line - bytes)))) {
    *end = '\0';
    gboolean first = k->read_to == 0 && line == bytes;
    if (first && strcmp(line, k->head) != 0)
      return ew_refuse(error,
                       "%s %s: this file does not begin with '%s': it holds something else; "
                       "name another file",
                       k->option, k->path, k->head);
    if (!first)
      take_line(k, line);
    line = end + 1;
  }
  k->counts.torn |= line < bytes + count;
  k->read_to += line - bytes;
  g_assert(line <= bytes + count && k->read_to <= *size);
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
    if (!read_all(k, begins, count, error))
      return FALSE;
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
  k->answers = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, g_free);
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
  g_hash_table_unref(k->answers);
  g_free(k->path);
  g_free(k);
}

const double *ew_kept_file_find(struct ew_kept_file *k, const char *key, int count) {
  g_assert(count > 0);
  struct figures *answer = g_hash_table_lookup(k->answers, key);
  k->counts.look_ups++;
  if (!answer || answer->count != count)
    return NULL;
  k->counts.taken += !answer->taken;
  answer->taken = TRUE;
  return answer->figure;
}

struct ew_kept_counts ew_kept_file_count(const struct ew_kept_file *k) {
  return k->counts;
}

/* ---- added ---- */

static void append_row(GString *text, const struct ew_kept_line *row) {
  g_assert(row->key && !strpbrk(row->key, "\t\n"));
  char buffer[EW_NUMBER_SIZE], check[CHECK + 1];
  gsize from = text->len;
  g_autofree char *says = g_strescape(row->text, NULL);
  g_string_append_printf(text, FORM "\t%s\t%d\t%s", row->key, EW_CYCLE_PHYSICS, says);
  for (int i = 0; i < row->count; i++)
    g_string_append_printf(text, "\t%s", ew_number_write(row->figures[i], buffer));
  check_of(text->str + from, text->len - from, check);
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
  for (int i = 0; i < n; i++) {
    k->counts.look_ups++;
    if (!g_hash_table_contains(k->answers, rows[i].key))
      append_row(text, &rows[i]);
  }
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
