/* cell amend: a figure of the cell's record was wrong. Whatever was computed with it is listed, and amended when that is meant. cell right: it
 * looks wrong and is not. */
#include "base/words.h"
#include "book/keep.h"
#include "cli/amend_call.h"
#include "cli/command.h"
#include "desk/add.h"
#include "desk/amend.h"
#include "desk/cell_record.h"
#include "desk/sets.h"
#include <string.h>

static const struct ew_option_spec options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"set", EW_TEXT("NAME=VALUE"), EW_TEXT("the figure as it is; may be repeated"), FALSE},
    {"since", EW_TEXT("PULL"), EW_TEXT("only this pull and those after it"), FALSE},
    {"pulls", EW_TEXT("PULL"), EW_TEXT("only these pulls"), TRUE},
    {"reason", EW_TEXT("TEXT"), EW_TEXT("why; it is kept with each amendment"), FALSE},
    {"who", EW_TEXT("NAME"), EW_TEXT("who puts it right (default: who is logged in)"), FALSE},
    {"sure", NULL, EW_TEXT("amend them; without it they are only listed"), FALSE},
    {NULL, NULL, NULL, FALSE}};

/* Those that would change: gint64, listed unless they are amended. NULL with *error. */
static GArray *concerned(const struct ew_call *call, struct ew_book *book, const GArray *asked,
                         const char *const *sets, GError **error) {
  g_autoptr(GArray) found = ew_cell_concerned(book, asked, sets, error);
  GArray *ids = found ? g_array_new(FALSE, FALSE, sizeof(gint64)) : NULL;
  for (guint i = 0; found && i < found->len; i++) {
    const struct ew_cell_change *one = &g_array_index(found, struct ew_cell_change, i);
    g_autoptr(GPtrArray) texts = ew_messages_texts(one->changes, call->units);
    g_ptr_array_add(texts, NULL);
    g_autofree char *list = g_strjoinv("; ", (char **)texts->pdata);
    g_array_append_val(ids, one->pull_id);
    if (!call->json && !ew_call_has(call, "sure"))
      ew_say("pull %lld: %s", (long long)one->pull_id, list);
  }
  return ids;
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
  return ew_cell_keep(desk, sets, error) &&
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

/* ---- cell right ---- */

static const struct ew_option_spec right_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"how", EW_TEXT("TEXT"), EW_TEXT("how it was measured; it is kept with it"), FALSE},
    {"who", EW_TEXT("NAME"), EW_TEXT("who says so (default: who is logged in)"), FALSE},
    {"take-back", NULL, EW_TEXT("it was not right: pulls to come are asked about again"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static gboolean say_right(const struct ew_call *call, const struct ew_desk *desk, GError **error) {
  g_autoptr(GArray) released = g_array_new(FALSE, FALSE, sizeof(gint64));
  if (!ew_cell_say_right(desk, ew_call_option(call, "how"), ew_call_option(call, "who"), released,
                         error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_cell_right_json(desk, &json);
    ew_json_open_array(&json, "released");
    for (guint i = 0; i < released->len; i++)
      ew_json_integer(&json, NULL, g_array_index(released, gint64, i));
    ew_json_close_array(&json);
    ew_answer_end(&json);
    return TRUE;
  }
  ew_say("the inertia of rotor and coupling is right: pulls with it are not asked about");
  if (released->len)
    ew_say(ew_tr_many("%u pull that was held for it is used again",
                      "%u pulls that were held for it are used again", released->len),
           released->len);
  return TRUE;
}

static gboolean run_right(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  gboolean back = ew_call_has(call, "take-back");
  if (!book)
    return FALSE;
  if (back && ew_call_has(call, "how"))
    return ew_refuse(error, "give --how or --take-back, not both");
  gboolean good = ew_desk_open(&desk, book, error) &&
                  (back ? ew_cell_unsay_right(book, error) : say_right(call, &desk, error));
  if (good && back && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_cell_right_json(&desk, &json);
    ew_answer_end(&json);
  } else if (good && back)
    ew_say("taken back: pulls with an odd inertia are asked about again");
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_cell_right = {
    .name = "cell right",
    .summary = EW_TEXT("The cell's inertia looks odd and is right: say so once, with how it was "
                       "measured"),
    .takes = "",
    .options = right_options,
    .run = run_right,
    .examples = EW_TEXT("cell right --how \"run-down with and without the flywheel, 3 May\"\n"
                        "cell right --take-back")};
