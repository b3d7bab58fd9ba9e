/* engine new, add, show, check: the combination as one file says it. */
#include "base/plain.h"
#include "book/keep.h"
#include "cli/command.h"
#include "engine/check.h"
#include <stdio.h>
#include <string.h>

static const struct ew_option_spec no_options[] = {{NULL, NULL, NULL, FALSE}};
static const struct ew_option_spec book_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE}, {NULL, NULL, NULL, FALSE}};

static gboolean run_new(const struct ew_call *call, GError **error) {
  (void)call;
  (void)error;
  g_autofree char *text = ew_engine_template();
  fputs(text, stdout);
  return TRUE;
}
const struct ew_command ew_command_engine_new = {
    .name = "engine new",
    .prints_text = TRUE,
    .summary = EW_TEXT("A commented engine file to start from"),
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
  struct ew_engine_check *check = ew_engine_check_new(&engine);
  guint warnings = check->warnings->len;
  ew_engine_check_free(check);
  ew_engine_clear(&engine);
  if (!name || !*name)
    return ew_refuse(error, "%s: 'name' is needed to keep an engine in the book", path);
  g_autofree char *yaml = NULL;
  if (!g_file_get_contents(path, &yaml, NULL, NULL))
    return ew_refuse(error, "%s: cannot be read", path);
  g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
  const struct ew_new_engine new = {.name = name, .yaml = yaml};
  gint64 id = book ? ew_keep_engine(book, &new, error) : 0;
  if (!id)
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_integer(&json, "id", id);
    ew_json_text(&json, "name", name);
    ew_json_integer(&json, "warnings", warnings);
    ew_answer_end(&json);
    return TRUE;
  }
  ew_say("engine %lld: %s", (long long)id, name);
  if (warnings)
    ew_say("findings to look at: %u; 'enginewright engine check \"%s\"' lists them", warnings,
           name);
  return TRUE;
}
const struct ew_command ew_command_engine_add = {
    .name = "engine add",
    .summary = EW_TEXT("Add an engine to the book, or its changed file"),
    .takes = EW_TEXT("FILE"),
    .least = 1,
    .most = 1,
    .options = book_options,
    .run = run_add,
    .examples = "engine add my-engine.yaml"};

static gboolean parse_row(struct ew_book *book, const char *what, struct ew_engine *engine,
                          GError **error) {
  struct ew_engine_row row;
  if (!ew_engine_get(book, what, &row, error))
    return FALSE;
  g_autoptr(ew_node) root = ew_node_parse(row.name, row.yaml, strlen(row.yaml), error);
  gboolean good = root && ew_engine_read(root, row.name, engine, error);
  ew_engine_row_clear(&row);
  return good;
}

/* An engine by its file or, where there is no such file, by its name in the book. */
static gboolean find_engine(const struct ew_call *call, const char *what, struct ew_engine *engine,
                            GError **error) {
  if (what && g_file_test(what, G_FILE_TEST_IS_REGULAR)) {
    g_autoptr(ew_node) root = ew_node_read(what, error);
    return root && ew_engine_read(root, what, engine, error);
  }
  gboolean file = what && (g_str_has_suffix(what, ".yaml") || strchr(what, G_DIR_SEPARATOR));
  if (file)
    return ew_refuse(error, "%s: there is no such file", what);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  return book && parse_row(book, what, engine, error);
}

static void say_fields(const struct ew_fields *table, const void *record, const char *heading,
                       enum ew_unit_system units) {
  gboolean said = heading == NULL;
  for (gsize i = 0; i < table->count; i++) {
    g_autofree char *value = ew_field_show(&table->fields[i], record, units);
    if (!value)
      continue;
    if (!said)
      ew_say("%s", heading);
    said = TRUE;
    ew_say("%s%-24s %s", heading ? "  " : "", table->fields[i].name, value);
  }
}

static gboolean run_show(const struct ew_call *call, GError **error) {
  struct ew_engine engine;
  if (!find_engine(call, ew_call_argument(call, 0), &engine, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_engine_write_json(&engine, &json);
    ew_json_number(&json, "displacement_m3", ew_engine_displacement_m3(&engine));
    ew_answer_end(&json);
  } else {
    say_fields(&ew_engine_fields, &engine, NULL, call->units);
    for (gsize i = 0; i < ew_engine_groups_count; i++)
      say_fields(ew_engine_groups[i].fields, (const char *)&engine + ew_engine_groups[i].offset,
                 ew_engine_groups[i].key, call->units);
  }
  ew_engine_clear(&engine);
  return TRUE;
}
const struct ew_command ew_command_engine_show = {
    .name = "engine show",
    .summary = EW_TEXT("An engine of the book or of a file, field by field"),
    .takes = EW_TEXT("[FILE|NAME]"),
    .most = 1,
    .options = book_options,
    .run = run_show,
    .examples = "engine show\nengine show \"hill-climb six\" --json"};

static gboolean run_check(const struct ew_call *call, GError **error) {
  struct ew_engine engine;
  if (!find_engine(call, ew_call_argument(call, 0), &engine, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_engine_check_write_json(&engine, call->units, &json);
    ew_answer_end(&json);
  } else {
    g_autofree char *text = ew_engine_check_text(&engine, call->units),
                    *plain = ew_plain_text(text);
    fputs(plain, stdout);
  }
  ew_engine_clear(&engine);
  return TRUE;
}
const struct ew_command ew_command_engine_check = {
    .name = "engine check",
    .summary = EW_TEXT("The arithmetic of a combination, with its warnings"),
    .takes = EW_TEXT("[FILE|NAME]"),
    .most = 1,
    .options = book_options,
    .run = run_check,
    .examples = "engine check my-engine.yaml\nengine check \"hill-climb six\" --json",
    .more = EW_TEXT("Compression, cam events, valve train, breathing, fuel, balance and torsion, "
                    "each figure with how far it can be trusted. Warnings do not change the exit "
                    "code. What the makers of the parts say comes before anything printed here.")};
