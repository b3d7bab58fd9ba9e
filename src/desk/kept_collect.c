/* Collecting: lines are taken as they are, so that what was written once is written again with the same bytes. See kept_collect.h;
 * what a line is: kept_file.h. */
#include "desk/kept_collect.h"
#include "base/error.h"
#include "cycle/model.h"
#include <string.h>

#define CHECK 16

struct record {
  char *line;
  const char *file; /* the caller's */
};

static void record_free(gpointer data) {
  struct record *record = data;
  g_free(record->line);
  g_free(record);
}

/* Of a whole line: its key; NULL and the right count when it does not count. */
static char *key_of(const char *line, struct ew_kept_collected *counts) {
  const char *last = strrchr(line, '\t');
  g_autofree char *sum = last ? g_compute_checksum_for_data(G_CHECKSUM_SHA256, (const guchar *)line,
                                                            (gsize)(last - line))
                              : NULL;
  if (!last || strlen(last + 1) != CHECK || strncmp(last + 1, sum, CHECK) != 0) {
    counts->damaged++;
    return NULL;
  }
  g_auto(GStrv) cells = g_strsplit(line, "\t", 4);
  g_autofree char *physics = g_strdup_printf("%d", EW_CYCLE_PHYSICS);
  if (g_strv_length(cells) < 4 || strcmp(cells[0], "1") != 0 || strcmp(cells[2], physics) != 0) {
    counts->older++;
    return NULL;
  }
  return g_strdup(cells[1]);
}

static gboolean take_line(GHashTable *records, const char *line, const char *file,
                          struct ew_kept_collected *counts, GError **error) {
  g_autofree char *key = key_of(line, counts);
  if (!key)
    return TRUE;
  struct record *known = g_hash_table_lookup(records, key);
  if (known && strcmp(known->line, line) != 0)
    return ew_refuse(
        error,
        "%s and %s have unlike figures for the same run (%.12s...): one of the workers "
        "ran another program; leave its file out",
        known->file, file, key);
  if (known) {
    counts->twice++;
    return TRUE;
  }
  struct record *record = g_new(struct record, 1);
  *record = (struct record){g_strdup(line), file};
  g_hash_table_insert(records, g_steal_pointer(&key), record);
  return TRUE;
}

static gboolean begins(const char *text, const char *head) {
  gsize length = strlen(head);
  return strncmp(text, head, length) == 0 && text[length] == '\n';
}

static gboolean take_file(GHashTable *records, const char *file, const char *head,
                          struct ew_kept_collected *counts, GError **error) {
  g_autofree char *text = NULL;
  g_autoptr(GError) problem = NULL;
  if (!g_file_get_contents(file, &text, NULL, &problem))
    return ew_refuse(error, "%s", problem->message);
  if (!*text) /* a worker that died before its first word */
    return TRUE;
  if (!begins(text, head))
    return ew_refuse(error, "%s does not begin with '%s': it holds something else", file, head);
  char *line = text + strlen(head) + 1, *end;
  for (; (end = strchr(line, '\n')); line = end + 1) {
    *end = '\0';
    if (!take_line(records, line, file, counts, error))
      return FALSE;
  }
  counts->damaged += *line != '\0'; /* torn off when its worker died */
  return TRUE;
}

static gboolean write_sorted(GHashTable *records, const char *into, const char *head,
                             GError **error) {
  g_autoptr(GList) keys = g_list_sort(g_hash_table_get_keys(records), (GCompareFunc)strcmp);
  g_autoptr(GString) text = g_string_new(head);
  g_autoptr(GError) problem = NULL;
  g_string_append_c(text, '\n');
  for (const GList *k = keys; k; k = k->next) {
    const struct record *record = g_hash_table_lookup(records, k->data);
    g_string_append(text, record->line);
    g_string_append_c(text, '\n');
  }
  return g_file_set_contents_full(into, text->str, (gssize)text->len,
                                  G_FILE_SET_CONTENTS_CONSISTENT | G_FILE_SET_CONTENTS_DURABLE,
                                  0666, &problem) ||
         ew_refuse(error, "%s", problem->message);
}

gboolean ew_kept_collect(char *const *files, int n, const char *into, const char *head,
                         struct ew_kept_collected *counts, GError **error) {
  g_autoptr(GHashTable) records =
      g_hash_table_new_full(g_str_hash, g_str_equal, g_free, record_free);
  g_autofree char *before = NULL;
  gsize size = 0;
  *counts = (struct ew_kept_collected){0};
  if (g_file_get_contents(into, &before, &size, NULL) && size > 0 && !begins(before, head))
    return ew_refuse(error, "%s holds something else: name another file to collect into", into);
  for (int i = 0; i < n; i++)
    if (!take_file(records, files[i], head, counts, error))
      return FALSE;
  counts->records = g_hash_table_size(records);
  return write_sorted(records, into, head, error);
}
