/* Lines of files of kept runs: see kept_lines.h. */
#include "desk/kept_lines.h"
#include "cycle/model.h"
#include <errno.h>
#include <string.h>
#include <unistd.h>

#define BLOCK ((gsize)1 << 18)
#define LINE  ((gsize)512) /* longer ones are read in more than one go */

void ew_kept_check_of(const char *line, gsize length, char check[EW_KEPT_CHECK + 1]) {
  g_autofree char *sum =
      g_compute_checksum_for_data(G_CHECKSUM_SHA256, (const guchar *)line, length);
  g_strlcpy(check, sum, EW_KEPT_CHECK + 1);
}

/* What is behind at, up to `count` bytes; -1 with errno. */
static gssize read_some(int file, char *bytes, gsize count, gint64 at) {
  gssize n;
  do
    n = pread(file, bytes, count, at);
  while (n < 0 && errno == EINTR);
  return n;
}

gboolean ew_kept_lines_read(int file, gint64 from, gint64 to, ew_kept_each each, gpointer data,
                            gint64 *read_to, gboolean *stopped) {
  gsize room = BLOCK, held = 0; /* bytes of a line whose end is in the next block */
  g_autofree char *bytes = g_malloc(room);
  *read_to = from;
  *stopped = FALSE;
  while (*read_to + (gint64)held < to) {
    if (held == room)
      bytes = g_realloc(bytes, room *= 2);
    gint64 at = *read_to + (gint64)held;
    gssize n = read_some(file, bytes + held, MIN(room - held, (gsize)(to - at)), at);
    if (n <= 0) {
      errno = n < 0 ? errno : 0;
      return FALSE;
    }
    gsize count = held + (gsize)n;
    char *line = bytes, *end;
    while ((end = memchr(line, '\n', count - (gsize)(line - bytes)))) {
      *end = '\0';
      if (!each(line, (gsize)(end - line), *read_to, data)) {
        *stopped = TRUE;
        return FALSE;
      }
      *read_to += end + 1 - line;
      line = end + 1;
    }
    held = count - (gsize)(line - bytes);
    memmove(bytes, line, held);
  }
  return TRUE;
}

gboolean ew_kept_line_at(int file, gint64 at, GString *line) {
  g_string_truncate(line, 0);
  for (;;) {
    gsize had = line->len;
    g_string_set_size(line, had + LINE);
    gssize n = read_some(file, line->str + had, LINE, at + (gint64)had);
    if (n <= 0)
      return FALSE;
    const char *end = memchr(line->str + had, '\n', (gsize)n);
    g_string_truncate(line, end ? (gsize)(end - line->str) : had + (gsize)n);
    if (end)
      return TRUE;
  }
}

/* The next column from *at on, which is moved behind it; NULL where there is none before `end`. */
static const char *cell(const char **at, const char *end, gsize *letters) {
  const char *from = *at;
  const char *tab = from < end ? memchr(from, '\t', (gsize)(end - from)) : NULL;
  if (!tab)
    return NULL;
  *letters = (gsize)(tab - from);
  *at = tab + 1;
  return from;
}

static gboolean is(const char *text, gsize letters, const char *wanted) {
  return letters == strlen(wanted) && memcmp(text, wanted, letters) == 0;
}

enum ew_kept_kind ew_kept_line_kind(const char *line, gsize length, const char **key,
                                    gsize *letters) {
  char check[EW_KEPT_CHECK + 1], physics[16];
  const char *last = g_strrstr_len(line, (gssize)length, "\t"), *at = line;
  if (!last || line + length - (last + 1) != EW_KEPT_CHECK)
    return EW_KEPT_DAMAGED;
  ew_kept_check_of(line, (gsize)(last - line), check);
  if (memcmp(last + 1, check, EW_KEPT_CHECK) != 0)
    return EW_KEPT_DAMAGED;
  gsize form_letters = 0, physics_letters = 0;
  g_snprintf(physics, sizeof physics, "%d", EW_CYCLE_PHYSICS);
  const char *form = cell(&at, last + 1, &form_letters);
  *key = form ? cell(&at, last + 1, letters) : NULL;
  const char *own = *key ? cell(&at, last + 1, &physics_letters) : NULL;
  /* and a text, with the columns behind it or without */
  return own && at <= last && is(form, form_letters, EW_KEPT_FORM) &&
                 is(own, physics_letters, physics)
             ? EW_KEPT_COUNTS
             : EW_KEPT_OLDER;
}
