/* Messages: kinds listed by the linker, arguments copied, texts filled in at the edge. */
#include "base/message_parts.h"
#include "base/error.h"
#include "base/language.h"
#include "base/number.h"
#include <math.h>
#include <string.h>

const char *const ew_severity_keys[EW_SEVERITIES_COUNT] = {"note", "caution", "danger"};

const char *const ew_severity_words[EW_SEVERITIES_COUNT] = {EW_TEXT("note"), EW_TEXT("caution"),
                                                            EW_TEXT("danger")};

EW_MESSAGE(unknown_kind, "base.unknown", EW_CAUTION, "{id} (from a newer version of this program)");

/* ---- kinds ---- */

extern const struct ew_message_kind *const __start_ew_messages[];
extern const struct ew_message_kind *const __stop_ew_messages[];

static int by_id(gconstpointer a, gconstpointer b) {
  const struct ew_message_kind *const *x = a, *const *y = b;
  return strcmp((*x)->id, (*y)->id);
}

GPtrArray *ew_message_kinds(void) {
  GPtrArray *all = g_ptr_array_new();
  for (const struct ew_message_kind *const *one = __start_ew_messages; one < __stop_ew_messages;
       one++)
    g_ptr_array_add(all, (gpointer)(guintptr)*one);
  g_ptr_array_sort(all, by_id);
  return all;
}

static gpointer index_kinds(gpointer nothing) {
  (void)nothing;
  GHashTable *index = g_hash_table_new(g_str_hash, g_str_equal);
  for (const struct ew_message_kind *const *one = __start_ew_messages; one < __stop_ew_messages;
       one++) {
    gboolean is_new =
        g_hash_table_insert(index, (gpointer)(guintptr)(*one)->id, (gpointer)(guintptr)*one);
    g_assert(is_new); /* no two of one identifier */
  }
  return index;
}

const struct ew_message_kind *ew_message_kind_find(const char *id) {
  static GOnce once = G_ONCE_INIT;
  return g_hash_table_lookup(g_once(&once, index_kinds, NULL), id);
}

/* ---- arguments ---- */

struct ew_argument ew_say_text(const char *name, const char *text) {
  return (struct ew_argument){.name = name, .kind = EW_ARGUMENT_TEXT, .text = text ? text : ""};
}

struct ew_argument ew_say_text_here(const char *name, const char *text,
                                    const ew_message *elsewhere) {
  struct ew_argument a = ew_say_text(name, text);
  g_assert(elsewhere);
  a.message = elsewhere;
  return a;
}

struct ew_argument ew_say_term(const char *name, const char *term) {
  struct ew_argument a = ew_say_text(name, term);
  a.kind = EW_ARGUMENT_TERM;
  return a;
}

struct ew_argument ew_say_word(const char *name, const struct ew_message_kind *word) {
  return (struct ew_argument){.name = name, .kind = EW_ARGUMENT_WORD, .word = word};
}

struct ew_argument ew_say_count(const char *name, gint64 count) {
  return (struct ew_argument){.name = name, .kind = EW_ARGUMENT_COUNT, .count = count};
}

struct ew_argument ew_say_figure(const char *name, double figure, int decimals) {
  return (struct ew_argument){
      .name = name, .kind = EW_ARGUMENT_FIGURE, .figure = figure, .decimals = decimals};
}

struct ew_argument ew_say_share(const char *name, double share, int decimals) {
  return (struct ew_argument){
      .name = name, .kind = EW_ARGUMENT_SHARE, .figure = share, .decimals = decimals};
}

struct ew_argument ew_say_share_change(const char *name, double share, int decimals) {
  struct ew_argument a = ew_say_share(name, share, decimals);
  a.sign = TRUE;
  return a;
}

struct ew_argument ew_say_quantity(const char *name, enum ew_kind kind, double inside,
                                   int decimals) {
  return (struct ew_argument){.name = name,
                              .kind = EW_ARGUMENT_QUANTITY,
                              .quantity = kind,
                              .figure = inside,
                              .decimals = decimals};
}

struct ew_argument ew_say_change(const char *name, enum ew_kind kind, double inside, int decimals) {
  struct ew_argument a = ew_say_quantity(name, kind, inside, decimals);
  a.sign = TRUE;
  return a;
}

struct ew_argument ew_say_message(const char *name, const ew_message *message) {
  return (struct ew_argument){.name = name, .kind = EW_ARGUMENT_MESSAGE, .message = message};
}

struct ew_argument ew_say_messages(const char *name, const GPtrArray *messages) {
  return (struct ew_argument){.name = name, .kind = EW_ARGUMENT_MESSAGES, .messages = messages};
}

static struct ew_argument own(const struct ew_argument *given) {
  struct ew_argument a = *given;
  a.name = g_strdup(a.name);
  a.text = g_strdup(a.text);
  if (given->message)
    a.message = ew_message_copy(given->message);
  if (a.kind == EW_ARGUMENT_MESSAGES) {
    GPtrArray *list = ew_messages_new();
    if (given->messages)
      ew_messages_copy(given->messages, list);
    a.messages = list;
  }
  return a;
}

static void disown(gpointer data) {
  struct ew_argument *a = data;
  g_free((gpointer)(guintptr)a->name);
  g_free((gpointer)(guintptr)a->text);
  if (a->message)
    ew_message_free((ew_message *)(guintptr)a->message);
  if (a->messages)
    g_ptr_array_unref((GPtrArray *)(guintptr)a->messages);
}

/* ---- messages ---- */

ew_message *ew_message_begin(const struct ew_message_kind *kind, const char *id) {
  ew_message *m = g_new0(ew_message, 1);
  g_assert(id && (!kind || strcmp(kind->id, id) == 0));
  m->kind = kind;
  m->id = g_strdup(id);
  m->arguments = g_array_new(FALSE, FALSE, sizeof(struct ew_argument));
  g_array_set_clear_func(m->arguments, disown);
  return m;
}

void ew_message_take(ew_message *m, const struct ew_argument *argument) {
  g_assert(argument->name && (guint)argument->kind < EW_ARGUMENT_KINDS_COUNT);
  struct ew_argument own_one = own(argument);
  g_array_append_val(m->arguments, own_one);
}

/* The next place of a text: `name` of `size` bytes. NULL: no more. */
static const char *next_place(const char *at, const char **name, gsize *size) {
  for (; (at = strchr(at, '{')); at++) {
    if (at[1] == '{') {
      at++;
      continue;
    }
    const char *end = strchr(at, '}');
    g_assert(end); /* a text of ours with a brace left open */
    *name = at + 1;
    *size = (gsize)(end - at - 1);
    return end + 1;
  }
  return NULL;
}

static gboolean names_it(const char *text, const char *wanted) {
  const char *name;
  gsize size;
  for (const char *at = text; (at = next_place(at, &name, &size));)
    if (strlen(wanted) == size && strncmp(name, wanted, size) == 0)
      return TRUE;
  return FALSE;
}

/* Each place has its argument and each argument its place, in one of the forms. */
gboolean ew_message_fits(const ew_message *m) {
  const char *forms[] = {m->kind->text, m->kind->many}, *name;
  gsize size;
  for (int f = 0; f < 2; f++)
    for (const char *at = forms[f]; at && (at = next_place(at, &name, &size));) {
      g_autofree char *one = g_strndup(name, size);
      if (!ew_message_argument(m, one))
        return FALSE;
    }
  for (guint i = 0; i < m->arguments->len; i++) {
    const char *one = g_array_index(m->arguments, struct ew_argument, i).name;
    if (!names_it(m->kind->text, one) && !(m->kind->many && names_it(m->kind->many, one)))
      return FALSE;
  }
  return TRUE;
}

ew_message *ew_message_new(const struct ew_message_kind *kind,
                           const struct ew_argument *arguments) {
  ew_message *m = ew_message_begin(kind, kind->id);
  for (; arguments->name; arguments++)
    ew_message_take(m, arguments);
  g_assert(m->arguments->len <= EW_MESSAGE_ARGUMENTS_MOST && ew_message_fits(m));
  return m;
}

ew_message *ew_message_plain(const struct ew_message_kind *kind) {
  return ew_message_new(kind, &(const struct ew_argument){.name = NULL});
}

ew_message *ew_message_copy(const ew_message *from) {
  ew_message *m = ew_message_begin(from->kind, from->id);
  m->subject = g_strdup(from->subject);
  for (guint i = 0; i < from->arguments->len; i++)
    ew_message_take(m, &g_array_index(from->arguments, struct ew_argument, i));
  return m;
}

static GPtrArray *elsewhere_each(const GPtrArray *list) {
  GPtrArray *told = ew_messages_new();
  for (guint i = 0; i < list->len; i++)
    ew_messages_add(told, ew_message_elsewhere(list->pdata[i]));
  return told;
}

ew_message *ew_message_elsewhere(const ew_message *from) {
  ew_message *m = ew_message_begin(from->kind, from->id);
  m->subject = g_strdup(from->subject);
  for (guint i = 0; i < from->arguments->len; i++) {
    struct ew_argument a = g_array_index(from->arguments, struct ew_argument, i);
    g_autoptr(ew_message) inner = a.message ? ew_message_elsewhere(a.message) : NULL;
    g_autoptr(GPtrArray) list = a.messages ? elsewhere_each(a.messages) : NULL;
    a.message = inner;
    a.messages = list;
    if (a.kind == EW_ARGUMENT_TEXT && inner) {
      a.kind = EW_ARGUMENT_MESSAGE;
      a.text = NULL;
    }
    ew_message_take(m, &a);
  }
  return m;
}

void ew_message_free(ew_message *m) {
  if (!m)
    return;
  g_free(m->id);
  g_free(m->subject);
  g_array_unref(m->arguments);
  g_free(m);
}

ew_message *ew_message_about(ew_message *message, const char *subject) {
  g_free(message->subject);
  message->subject = g_strdup(subject);
  return message;
}

const char *ew_message_id(const ew_message *message) {
  return message->id;
}

const char *ew_message_subject(const ew_message *message) {
  return message->subject;
}

enum ew_severity ew_message_severity(const ew_message *message) {
  return message->kind ? message->kind->severity : EW_CAUTION;
}

gboolean ew_message_is(const ew_message *message, const struct ew_message_kind *kind) {
  return message && strcmp(message->id, kind->id) == 0;
}

const struct ew_argument *ew_message_argument(const ew_message *message, const char *name) {
  for (guint i = 0; i < message->arguments->len; i++) {
    const struct ew_argument *a = &g_array_index(message->arguments, struct ew_argument, i);
    if (strcmp(a->name, name) == 0)
      return a;
  }
  return NULL;
}

gboolean ew_message_equal(const ew_message *a, const ew_message *b) {
  g_autofree char *x = ew_message_write(a), *y = ew_message_write(b);
  return strcmp(x, y) == 0;
}

/* ---- sentences ---- */

/* A figure as the thread's language writes it. */
static void append_figure(GString *to, double value, const struct ew_argument *a) {
  char digits[EW_NUMBER_SIZE];
  if (!isfinite(value)) {
    g_string_append_c(to, '-');
    return;
  }
  if (a->sign && value >= 0)
    g_string_append_c(to, '+');
  ew_number_fixed(value, a->decimals, digits);
  g_assert(*digits);
  gsize whole = strcspn(digits, ".");
  for (gsize i = 0; digits[i]; i++) {
    if (i > 0 && i < whole && (whole - i) % 3 == 0 && g_ascii_isdigit(digits[i - 1]))
      g_string_append(to, ew_language_thousands());
    g_string_append_c(to, digits[i] == '.' ? ew_language_decimal() : digits[i]);
  }
}

/* `decimals` are meant in metric units. In the other system a figure gets as many as keep it about as fine: 0.058 mm and
 * 0.0023 in. */
static int decimals_in(enum ew_kind kind, enum ew_unit_system units, int decimals) {
  if (kind == EW_KIND_LENGTH &&
      units == EW_UNITS_US) /* thousandths of an inch, and tenths of one */
    return MIN(decimals + 2, MAX(decimals, 4));
  double metric = fabs(ew_shown(kind, EW_UNITS_SI, 1) - ew_shown(kind, EW_UNITS_SI, 0));
  double other = fabs(ew_shown(kind, units, 1) - ew_shown(kind, units, 0));
  return CLAMP(decimals + (int)log10(metric / other), MIN(decimals, 0), 9);
}

static void append_quantity(GString *to, const struct ew_argument *given,
                            enum ew_unit_system units) {
  struct ew_argument one = *given;
  const struct ew_argument *a = &one;
  if (!a->sign) /* of a difference, only the kind says what it is of */
    units = ew_units_usual(a->quantity, units, a->figure);
  one.decimals = decimals_in(a->quantity, units, a->decimals);
  const char *unit = ew_kind_shown(a->quantity, units);
  append_figure(to, ew_shown(a->quantity, units, a->figure), a);
  if (isfinite(a->figure))
    g_string_append_printf(to, "%s%s", ew_unit_space(unit), unit);
}

static void append_messages(GString *to, const GPtrArray *list, enum ew_unit_system units) {
  for (guint i = 0; i < list->len; i++) {
    g_autofree char *one = ew_message_text(g_ptr_array_index(list, i), units);
    g_string_append_printf(to, "%s%s", i ? "; " : "", one);
  }
}

static void append_argument(GString *to, const struct ew_argument *a, enum ew_unit_system units) {
  switch (a->kind) {
  case EW_ARGUMENT_TEXT: g_string_append(to, a->text); break;
  case EW_ARGUMENT_TERM: g_string_append(to, *a->text ? ew_tr(a->text) : ""); break;
  case EW_ARGUMENT_WORD: g_string_append(to, ew_tr(a->word->text)); break;
  case EW_ARGUMENT_COUNT: g_string_append_printf(to, "%" G_GINT64_FORMAT, a->count); break;
  case EW_ARGUMENT_FIGURE: append_figure(to, a->figure, a); break;
  case EW_ARGUMENT_SHARE:
    append_figure(to, 100 * a->figure, a);
    g_string_append(to, isfinite(a->figure) ? " %" : "");
    break;
  case EW_ARGUMENT_QUANTITY: append_quantity(to, a, units); break;
  case EW_ARGUMENT_MESSAGE: {
    g_autofree char *text = ew_message_text(a->message, units);
    g_string_append(to, text);
    break;
  }
  case EW_ARGUMENT_MESSAGES: append_messages(to, a->messages, units); break;
  case EW_ARGUMENT_KINDS_COUNT: g_assert_not_reached();
  }
}

/* "id (name value, name value)" of what a later program wrote. */
static char *text_of_unknown(const ew_message *m, enum ew_unit_system units) {
  GString *all = g_string_new(m->id);
  for (guint i = 0; i < m->arguments->len; i++) {
    const struct ew_argument *a = &g_array_index(m->arguments, struct ew_argument, i);
    g_string_append_printf(all, "%s%s ", i ? ", " : ": ", a->name);
    append_argument(all, a, units);
  }
  g_autofree char *id = g_string_free(all, FALSE);
  g_autoptr(ew_message) said = ew_message(&unknown_kind, ew_say_text("id", id));
  return ew_message_text(said, units);
}

static gint64 first_count(const ew_message *m) {
  for (guint i = 0; i < m->arguments->len; i++) {
    const struct ew_argument *a = &g_array_index(m->arguments, struct ew_argument, i);
    if (a->kind == EW_ARGUMENT_COUNT)
      return a->count;
  }
  return 1;
}

char *ew_message_text(const ew_message *m, enum ew_unit_system units) {
  if (!m->kind)
    return text_of_unknown(m, units);
  const char *text = m->kind->many
                         ? ew_tr_many(m->kind->text, m->kind->many, (guint64)ABS(first_count(m)))
                         : ew_tr(m->kind->text);
  GString *to = g_string_new(NULL);
  while (*text) {
    gsize plain = strcspn(text, "{");
    g_string_append_len(to, text, (gssize)plain);
    text += plain;
    const char *end = *text ? strchr(text, '}') : NULL;
    if (text[0] == '{' && text[1] == '{') {
      g_string_append_c(to, '{');
      text += 2;
    } else if (*text) {
      g_autofree char *name = g_strndup(text + 1, end ? (gsize)(end - text - 1) : 0);
      const struct ew_argument *a = end ? ew_message_argument(m, name) : NULL;
      if (a)
        append_argument(to, a, units);
      text = end ? end + 1 : text + 1; /* a translation with a place of no name leaves it out */
    }
  }
  return g_string_free(to, FALSE);
}

/* ---- lists ---- */

static void free_one(gpointer message) {
  ew_message_free(message);
}

GPtrArray *ew_messages_new(void) {
  return g_ptr_array_new_with_free_func(free_one);
}

void ew_messages_add(GPtrArray *list, ew_message *message) {
  if (message)
    g_ptr_array_add(list, message);
}

void ew_messages_copy(const GPtrArray *from, GPtrArray *to) {
  for (guint i = 0; i < from->len; i++)
    g_ptr_array_add(to, ew_message_copy(g_ptr_array_index(from, i)));
}

void ew_messages_write_json(const GPtrArray *list, const char *key, enum ew_unit_system units,
                            struct ew_json *json) {
  ew_json_open_array(json, key);
  for (guint i = 0; list && i < list->len; i++) {
    ew_json_open(json, NULL);
    ew_message_write_json(g_ptr_array_index(list, i), units, json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

GPtrArray *ew_messages_texts(const GPtrArray *list, enum ew_unit_system units) {
  GPtrArray *texts = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; list && i < list->len; i++)
    g_ptr_array_add(texts, ew_message_text(g_ptr_array_index(list, i), units));
  return texts;
}
