#include "cli/command.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const struct ew_option_spec no_options[] = {{NULL, NULL, NULL, FALSE}};
static const struct ew_option_spec book_options[] = {{"book", "FILE", "the shop's book", FALSE},
                                                     {NULL, NULL, NULL, FALSE}};

static gboolean run_new(const struct ew_call *call, GError **error) {
  (void)call;
  (void)error;
  g_autofree char *text = ew_fields_template(&ew_engine_fields);
  printf("# An engine. Any unit may be written. Remove the '#' before a field to use it.\n\n%s",
         text);
  return TRUE;
}
const struct ew_command ew_command_engine_new = {.name = "engine new",
                                                 .summary = "A commented engine file to start from",
                                                 .takes = "",
                                                 .options = no_options,
                                                 .run = run_new,
                                                 .examples = "engine new > my-engine.yaml"};

static gboolean run_add(const struct ew_call *call, GError **error) {
  const char *path = ew_call_argument(call, 0);
  g_autoptr(ew_node) root = ew_node_read(path, error);
  struct ew_engine engine;
  if (!root || !ew_engine_read(root, path, &engine, error))
    return FALSE;
  g_autofree char *name = g_strdup(engine.name);
  ew_engine_clear(&engine);
  if (!name || !*name)
    return ew_refuse(error, "%s: 'name' is needed to keep an engine in the book", path);
  g_autofree char *yaml = NULL;
  if (!g_file_get_contents(path, &yaml, NULL, NULL))
    return ew_refuse(error, "%s: cannot be read", path);
  g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
  if (!book || !ew_book_begin(book, error))
    return FALSE;
  gint64 id = ew_engine_add(book, name, yaml, error);
  if (!id || !ew_book_commit(book, error)) {
    ew_book_rollback(book);
    return FALSE;
  }
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "id", id);
    ew_json_text(&json, "name", name);
    ew_answer_end(&json);
  } else
    ew_say("engine %" G_GINT64_FORMAT ": %s", id, name);
  return TRUE;
}
const struct ew_command ew_command_engine_add = {.name = "engine add",
                                                 .summary =
                                                     "An engine into the book, or its file anew",
                                                 .takes = "FILE",
                                                 .least = 1,
                                                 .most = 1,
                                                 .options = book_options,
                                                 .run = run_add,
                                                 .examples = "engine add my-engine.yaml"};

static gboolean run_show(const struct ew_call *call, GError **error) {
  const char *what = ew_call_argument(call, 0);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_engine_row row;
  if (!book)
    return FALSE;
  if (!ew_engine_get(book, what, &row))
    return ew_refuse(error, "'%s': no such engine in this book", what ? what : "");
  g_autoptr(ew_node) root = ew_node_parse(row.name, row.yaml, strlen(row.yaml), error);
  struct ew_engine engine;
  gboolean good = root && ew_engine_read(root, row.name, &engine, error);
  ew_engine_row_clear(&row);
  if (!good)
    return FALSE;
  struct ew_json json = {0};
  if (call->json) {
    json = ew_answer_begin();
    ew_fields_write_json(&ew_engine_fields, &engine, &json);
    ew_json_number(&json, "displacement_m3", ew_engine_displacement_m3(&engine));
    ew_answer_end(&json);
  } else
    for (gsize i = 0; i < ew_engine_fields.count; i++) {
      g_autofree char *value = ew_field_show(&ew_engine_fields.fields[i], &engine, call->units);
      if (value)
        ew_say("%-24s %s", ew_engine_fields.fields[i].name, value);
    }
  ew_engine_clear(&engine);
  return TRUE;
}
const struct ew_command ew_command_engine_show = {
    .name = "engine show",
    .summary = "An engine of the book",
    .takes = "[NAME]",
    .most = 1,
    .options = book_options,
    .run = run_show,
    .examples = "engine show\nengine show \"hill-climb six\" --json"};
