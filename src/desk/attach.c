/* "pull:12", "build:PLACE", "day:2026-11-30" to an owner that exists in this book. An owner that nobody could ever
 * meet again (a place that is neither measured nor ticked) is refused. */
#include "desk/attach.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "base/number.h"
#include "book/store.h"
#include "desk/build.h"
#include <math.h>
#include <string.h>

char *ew_desk_day(struct ew_book *book, GError **error) {
  struct ew_pull_row last;
  GError *problem = NULL;
  g_autofree char *now = ew_time_now();
  char day[EW_DAY_SIZE];
  gboolean any = ew_pull_last(book, 0, &last, &problem);
  char *its = any ? g_strdup(last.day) : NULL;
  ew_pull_row_clear(&last);
  if (!any && !problem)
    its = ew_book_day(book, now, day, NULL) ? g_strdup(day) : g_strndup(now, 10);
  if (problem)
    g_propagate_error(error, problem);
  return its;
}

static gboolean of_engine(struct ew_book *book, const char *name, struct ew_owner *owner,
                          GError **error) {
  struct ew_engine_row row;
  gboolean found = ew_engine_get(book, name, &row, error);
  owner->id = row.id;
  ew_engine_row_clear(&row);
  return found;
}

/* A place that nobody measures or ticks would never be seen again. */
static gboolean has_place(const struct ew_bench_build *b, const char *place) {
  g_autoptr(GArray) lines = ew_build_lines(b->build, &b->engine);
  const struct ew_build_step *step;
  gboolean found = FALSE;
  for (guint i = 0; i < lines->len && !found; i++)
    found = g_strcmp0(g_array_index(lines, struct ew_build_line, i).name, place) == 0;
  EW_BUILD_EACH(b->build, STEP, struct ew_build_step, step, i)
  found = found || g_strcmp0(step->step, place) == 0;
  return found;
}

static gboolean of_build(struct ew_book *book, const char *place, const char *engine,
                         struct ew_owner *owner, GError **error) {
  struct ew_bench_build b;
  if (!ew_bench_build_open(book, engine, TRUE, &b, error))
    return FALSE;
  owner->id = b.build->id;
  owner->place = place ? g_strdup(place) : NULL;
  gboolean good =
      !place || has_place(&b, place) ||
      ew_refuse_with(error, EW_REMEDY_LIST_BUILD,
                     "build:%s: no measurement and no step of this build has that name", place);
  ew_bench_build_clear(&b);
  return good;
}

static gboolean of_pull(struct ew_book *book, const char *text, struct ew_owner *owner,
                        GError **error) {
  guint64 id;
  struct ew_pull_row row;
  if (!text || !g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT32, &id, NULL))
    return ew_refuse(error, "pull:%s: write the number of a pull, such as pull:12",
                     text ? text : "");
  owner->id = (gint64)id;
  if (!ew_pull_get(book, owner->id, &row, error))
    return FALSE;
  ew_pull_row_clear(&row);
  return TRUE;
}

static gboolean of_day(struct ew_book *book, const char *text, struct ew_owner *owner,
                       GError **error) {
  owner->place = text ? g_strdup(text) : ew_desk_day(book, error);
  if (!owner->place)
    return FALSE;
  g_autofree char *noon = text ? g_strconcat(text, "T12:00:00Z", NULL) : NULL;
  return !text || (strlen(text) == 10 && !isnan(ew_time_parse(noon))) ||
         ew_refuse(error, "day:%.40s: write a date, such as day:2026-11-25", text);
}

gboolean ew_desk_owner(struct ew_book *book, const char *text, const char *engine,
                       struct ew_owner *owner, GError **error) {
  const char *colon = strchr(text, ':'), *rest = colon ? colon + 1 : NULL;
  g_autofree char *word = colon ? g_strndup(text, (gsize)(colon - text)) : g_strdup(text);
  int kind = 0;
  *owner = (struct ew_owner){0};
  while (kind < EW_OWNERS_COUNT && strcmp(word, ew_owner_words[kind]) != 0)
    kind++;
  owner->kind = (enum ew_owner_kind)kind;
  gboolean good = FALSE;
  if (kind == EW_OWNERS_COUNT)
    ew_refuse(error,
              "'%.60s' is not one of engine, engine:NAME, build, build:ITEM, pull:12, day, "
              "day:2026-11-25",
              text);
  else if (kind == EW_OWNER_ENGINE)
    good = of_engine(book, rest ? rest : engine, owner, error);
  else if (kind == EW_OWNER_BUILD)
    good = of_build(book, rest, engine, owner, error);
  else
    good = kind == EW_OWNER_PULL ? of_pull(book, rest, owner, error)
                                 : of_day(book, rest, owner, error);
  if (!good)
    ew_desk_owner_clear(owner);
  return good;
}

void ew_desk_owner_clear(struct ew_owner *owner) {
  g_free(ew_as_pointer(owner->place));
  *owner = (struct ew_owner){0};
}
