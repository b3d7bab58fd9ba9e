/* cell amend: a figure of the cell's record was wrong. Whatever was computed with it is listed, and amended when that is meant. */
#include "base/words.h"
#include "book/keep.h"
#include "cli/amend_call.h"
#include "cli/command.h"
#include "desk/add.h"
#include "desk/amend.h"
#include "desk/sets.h"
#include <string.h>

static const struct ew_option_spec options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"set", EW_TEXT("NAME=VALUE"), EW_TEXT("the figure as it is; may be repeated"), FALSE},
    {"since", EW_TEXT("PULL"), EW_TEXT("only this pull and those after it"), FALSE},
    {"pulls", EW_TEXT("PULL..."), EW_TEXT("only these pulls"), TRUE},
    {"reason", EW_TEXT("TEXT"), EW_TEXT("why; it is kept with each amendment"), FALSE},
    {"who", EW_TEXT("NAME"), EW_TEXT("who puts it right (default: who is logged in)"), FALSE},
    {"sure", NULL, EW_TEXT("amend them; without it they are only listed"), FALSE},
    {NULL, NULL, NULL, FALSE}};

/* The cell's record of one pull, and whether the figures change it; its changes as a text. NULL: they do not. */
static char *changes_of(struct ew_book *book, gint64 id, const char *const *sets,
                        enum ew_unit_system units, GError **error) {
  struct ew_curve_row row;
  struct ew_bench before = {0}, after = {0};
  if (!ew_curve_get(book, id, &row, error))
    return NULL;
  g_autoptr(GPtrArray) changes = ew_messages_new();
  if (ew_record_from_yaml(&ew_bench_fields, "cell", row.cell, &before, error)) {
    ew_fields_copy(&ew_bench_fields, &before, &after);
    if (ew_apply_record_sets(&ew_bench_fields, &after, sets, error))
      for (gsize i = 0; i < ew_bench_fields.count; i++)
        if (!ew_field_same(&ew_bench_fields.fields[i], &before, &after))
          ew_messages_add(changes, ew_field_change(&ew_bench_fields.fields[i], &before, &after));
  }
  ew_fields_clear(&ew_bench_fields, &before);
  ew_fields_clear(&ew_bench_fields, &after);
  ew_curve_row_clear(&row);
  if (changes->len == 0)
    return NULL;
  g_autoptr(GPtrArray) texts = ew_messages_texts(changes, units);
  g_ptr_array_add(texts, NULL);
  return g_strjoinv("; ", (char **)texts->pdata);
}

/* Those that would change, listed. NULL with *error. */
static GArray *concerned(const struct ew_call *call, struct ew_book *book, const GArray *asked,
                         const char *const *sets, GError **error) {
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  for (guint i = 0; i < asked->len; i++) {
    gint64 id = g_array_index(asked, gint64, i);
    GError *problem = NULL;
    g_autofree char *changes = changes_of(book, id, sets, call->units, &problem);
    if (problem) {
      g_propagate_error(error, problem);
      return NULL;
    }
    if (!changes)
      continue;
    g_array_append_val(ids, id);
    if (!call->json && !ew_call_has(call, "sure"))
      ew_say("pull %lld: %s", (long long)id, changes);
  }
  return g_steal_pointer(&ids);
}

/* The book's own record, for pulls to come. */
static gboolean keep_record(const struct ew_desk *desk, const char *const *sets, GError **error) {
  struct ew_bench bench = {0};
  ew_fields_copy(&ew_bench_fields, &desk->bench, &bench);
  gboolean good = ew_apply_record_sets(&ew_bench_fields, &bench, sets, error);
  g_autofree char *yaml = good ? ew_fields_write_yaml(&ew_bench_fields, &bench) : NULL;
  ew_fields_clear(&ew_bench_fields, &bench);
  return good && ew_keep_setting(desk->book, "cell", yaml, error);
}

static void answer_listed(const struct ew_call *call, const GArray *ids) {
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_open_array(&json, "would_amend");
    for (guint i = 0; i < ids->len; i++)
      ew_json_integer(&json, NULL, g_array_index(ids, gint64, i));
    ew_json_close_array(&json);
    ew_answer_end(&json);
  } else if (ids->len == 0)
    ew_say("no pull was computed with another figure; --sure changes the cell's record");
  else
    ew_say(ew_tr_many("%u pull would be computed again; --sure does it, and changes the cell's "
                      "record",
                      "%u pulls would be computed again; --sure does it, and changes the cell's "
                      "record",
                      ids->len),
           ids->len);
}

static gboolean amend_all(const struct ew_call *call, const struct ew_desk *desk, const GArray *ids,
                          const char *const *sets, GError **error) {
  const struct ew_amend_ask ask = {.pulls = (const gint64 *)(const void *)ids->data,
                                   .pulls_count = ids->len,
                                   .cell_sets = sets,
                                   .who = ew_call_option(call, "who"),
                                   .reason = ew_call_option(call, "reason"),
                                   .progress = ew_call_progress()};
  return keep_record(desk, sets, error) &&
         (ids->len == 0 || ew_call_amend(call, desk, &ask, error));
}

static gboolean run(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  g_autofree const char **sets = ew_call_options(call, "set");
  const char *reason = ew_call_option(call, "reason");
  if (!book)
    return FALSE;
  if (!sets[0])
    return ew_refuse(error, "which figure of the cell's record? For example --set "
                            "\"rotor_inertia=0.085 kg·m2\"");
  if (!reason || strspn(reason, " \t") == strlen(reason))
    return ew_refuse(error,
                     "--reason: say in a few words why; an amendment is kept with its reason");
  gboolean some = ew_call_has(call, "since") || ew_call_has(call, "pulls");
  g_autoptr(GArray) asked =
      some ? ew_call_pulls(call, book, error) : ew_pulls_since(book, 0, 0, error);
  gboolean good = asked && ew_desk_open(&desk, book, error) &&
                  ew_apply_record_sets(&ew_bench_fields, &desk.bench, sets, error);
  g_autoptr(GArray) ids = good ? concerned(call, book, asked, sets, error) : NULL;
  good = ids != NULL;
  if (good && !ew_call_has(call, "sure"))
    answer_listed(call, ids);
  else if (good)
    good = amend_all(call, &desk, ids, sets, error);
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_cell_amend = {
    .name = "cell amend",
    .summary = EW_TEXT("A figure of the cell's record was wrong: list the pulls that used it, and "
                       "amend them"),
    .takes = "",
    .options = options,
    .run = run,
    .examples = EW_TEXT("cell amend --set \"rotor_inertia=0.09 kg·m2\" --reason \"weighed and "
                        "swung again\"\ncell amend --set \"arm=0.5 m\" --reason \"measured again\" "
                        "--since 8 --sure")};
