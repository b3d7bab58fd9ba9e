/* What every command does with its call: options and arguments asked for, book and desk opened as they say, text, JSON and
 * progress put out. What people read goes to standard output, progress to standard error, so that --json and pipes stay clean. */
#include "cli/command.h"
#include "base/as_pointer.h"
#include "base/plain.h"
#include "base/words.h"
#include "book/ship.h"
#include "base/suggest.h"
#include "cli/commands.h"
#include "cli/shop_copy.h"
#include "pull/findings.h"
#include "desk/add.h"
#include "desk/sets.h"
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static int percent_shown = -1; /* what stands on the terminal; -1: nothing */

void ew_call_end_progress(void) {
  if (percent_shown >= 0)
    fputs("\r     \r", stderr);
  percent_shown = -1;
}

void ew_say(const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *text = ew_words_v(format, arguments), *plain = ew_plain_text(text);
  va_end(arguments);
  ew_call_end_progress();
  puts(plain);
}

static void show_progress(double share, gpointer data) {
  (void)data;
  if (!(share >= 0 && share <= 1) || (int)(100 * share) <= percent_shown)
    return;
  percent_shown = (int)(100 * share);
  fprintf(stderr, "\r%3d %%", percent_shown);
  if (percent_shown == 100)
    ew_call_end_progress();
}

ew_progress ew_call_progress(void) {
  return isatty(STDERR_FILENO) ? show_progress : NULL;
}

void ew_say_cautions(const GPtrArray *messages, enum ew_unit_system units) {
  for (guint i = 0; messages && i < messages->len; i++) {
    const ew_message *message = g_ptr_array_index(messages, i);
    g_autofree char *text = ew_message_text(message, units);
    if (ew_message_is(message, &ew_pull_no_rotor_inertia))
      ew_say(
          "caution: %s; write rotor_inertia into the cell's file ('book template cell'), and give "
          "it with 'book set --cell-file' or --cell-file",
          text);
    else
      ew_say("caution: %s", text);
  }
}

struct ew_json ew_answer_begin(void) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  return json;
}

void ew_answer_end(struct ew_json *json) {
  ew_json_close(json);
  g_assert(json->text->str[0] == '{' && json->text->str[json->text->len - 1] == '}');
  ew_call_end_progress();
  puts(json->text->str);
  g_string_free(json->text, TRUE);
}

void ew_answer_rows(const struct ew_call *call, const char *key, const GArray *rows,
                    ew_json_row write, void (*say)(const void *row)) {
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_rows(&json, key, rows, write);
    ew_answer_end(&json);
    return;
  }
  g_assert(rows && say);
  for (guint i = 0; i < rows->len; i++)
    say(rows->data + i * g_array_get_element_size(ew_as_pointer(rows)));
}

const char *ew_call_option(const struct ew_call *call, const char *name) {
  const char *found = NULL;
  for (guint i = 0; i < call->names->len; i++)
    if (strcmp(g_ptr_array_index(call->names, i), name) == 0)
      found = call->values->pdata[i] ? call->values->pdata[i] : "";
  return found;
}

gboolean ew_call_has(const struct ew_call *call, const char *name) {
  return ew_call_option(call, name) != NULL;
}

const char **ew_call_options(const struct ew_call *call, const char *name) {
  GPtrArray *list = g_ptr_array_new();
  for (guint i = 0; i < call->names->len; i++)
    if (strcmp(g_ptr_array_index(call->names, i), name) == 0)
      g_ptr_array_add(list, call->values->pdata[i]);
  g_ptr_array_add(list, NULL);
  return (const char **)g_ptr_array_free(list, FALSE);
}

gboolean ew_call_quantity(const struct ew_call *call, const char *name, enum ew_kind kind,
                          double otherwise, double *value, GError **error) {
  const char *text = ew_call_option(call, name);
  g_autofree char *field = g_strdup_printf("--%s", name);
  *value = otherwise;
  return !text || ew_quantity_parse(field, text, kind, value, error);
}

const char *ew_call_argument(const struct ew_call *call, guint index) {
  return index < call->arguments->len ? g_ptr_array_index(call->arguments, index) : NULL;
}

struct ew_book *ew_call_book(const struct ew_call *call, gboolean create, gboolean needed,
                             GError **error) {
  const char *given = ew_call_option(call, "book");
  g_autofree char *path = given ? ew_shop_copy_of(given, error) : ew_book_default_path();
  if (!path || (!needed && !given && !g_file_test(path, G_FILE_TEST_EXISTS)))
    return NULL;
  struct ew_book *book = ew_book_open(path, create, error);
  if (book && !ew_call_follow_book(book, error))
    g_clear_pointer(&book, ew_book_close);
  return book;
}

gboolean ew_call_place(const char *path, GError **error) {
  g_autofree char *folder = g_path_get_dirname(path);
  if (!*path || g_file_test(path, G_FILE_TEST_IS_DIR))
    return ew_refuse(error, "'%s' is not the name of a file that can be written", path);
  return g_file_test(folder, G_FILE_TEST_IS_DIR) ||
         ew_refuse(error, "%s: there is no folder '%s'", path, folder);
}

static gboolean read_record(const struct ew_call *call, const char *option,
                            const struct ew_fields *table, void *record, GError **error) {
  const char *path = ew_call_option(call, option);
  if (!path)
    return TRUE;
  g_autoptr(ew_node) root = ew_node_read(path, error);
  if (!root)
    return FALSE;
  ew_fields_clear(table, record);
  return ew_fields_read(table, root, path, NULL, record, error);
}

static gboolean read_engine(const struct ew_call *call, struct ew_desk *desk, GError **error) {
  const char *path = ew_call_option(call, "engine-file");
  if (!path)
    return TRUE;
  g_autoptr(ew_node) root = ew_node_read(path, error);
  if (!root)
    return FALSE;
  ew_engine_clear(&desk->engine);
  return ew_engine_read(root, path, &desk->engine, error);
}

static gboolean settle_standard(const struct ew_call *call, struct ew_desk *desk, GError **error) {
  const char *name = ew_call_option(call, "standard");
  enum ew_standard standard;
  if (!name)
    return TRUE;
  if (!ew_standard_find(name, &standard))
    return ew_refuse(error, "--standard '%s' is not known; 'enginewright air standards' lists them",
                     name);
  desk->method.standard = (int)standard;
  return TRUE;
}

gboolean ew_call_desk(const struct ew_call *call, struct ew_book *book, struct ew_desk *desk,
                      GError **error) {
  if (!ew_desk_open(desk, book, error))
    return FALSE;
  const char *map = ew_call_option(call, "map");
  if (map) {
    g_autoptr(ew_node) root = ew_node_read(map, error);
    struct ew_channel_map *good = root ? ew_channel_map_read(root, map, error) : NULL;
    g_autoptr(GError) problem = NULL;
    gboolean kept = good && g_file_get_contents(map, &desk->channel_map, NULL, &problem);
    ew_channel_map_free(good);
    if (!kept)
      return !good ? FALSE : ew_refuse(error, "--map: %s", problem->message);
  }
  g_autofree const char **sets = ew_call_options(call, "set");
  desk->given = (struct ew_given){.method = ew_call_has(call, "method"),
                                  .standard = ew_call_has(call, "standard"),
                                  .cell = ew_call_has(call, "cell-file"),
                                  .engine = ew_call_has(call, "engine-file"),
                                  .map = map != NULL,
                                  .sets = sets[0] ? g_strdupv(ew_as_pointer(sets)) : NULL};
  return read_record(call, "method", &ew_method_fields, &desk->method, error) &&
         read_record(call, "cell-file", &ew_bench_fields, &desk->bench, error) &&
         read_engine(call, desk, error) && settle_standard(call, desk, error) &&
         ew_apply_sets(&desk->setup, sets, error);
}

gboolean ew_call_keeps(const struct ew_call *call, const struct ew_book *book) {
  if (ew_call_has(call, "no-keep"))
    return FALSE;
  if (!book || !ew_book_is_copy(book))
    return TRUE;
  if (!call->json)
    ew_say("Asked of what the shop holds: the answer is not kept, and does not count as a look.");
  return FALSE;
}

gboolean ew_call_open_desk(const struct ew_call *call, struct ew_book **book, struct ew_desk *desk,
                           GError **error) {
  GError *problem = NULL;
  *book = ew_call_book(call, FALSE, FALSE, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  return ew_call_desk(call, *book, desk, error);
}
