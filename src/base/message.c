/* Messages: kinds listed by the linker, arguments copied, texts filled in at the edge. */
#include "base/message.h"
#include "base/error.h"
#include "base/language.h"
#include "base/node.h"
#include "base/number.h"
#include <math.h>
#include <string.h>

#define ARGUMENTS_MOST 16
#define DEPTH_MOST     8 /* messages within messages, as read */

const char *const ew_severity_keys[EW_SEVERITIES_COUNT] = {"note", "caution", "danger"};

const char *const ew_severity_words[EW_SEVERITIES_COUNT] = {EW_TEXT("note"), EW_TEXT("caution"),
                                                            EW_TEXT("danger")};

static const char *const argument_keys[EW_ARGUMENT_KINDS_COUNT] = {
    "text", "word", "count", "figure", "share", "quantity", "message", "messages"};

struct ew_message {
  const struct ew_message_kind *kind; /* NULL: not known to this program */
  char *id, *subject;
  GArray *arguments; /* struct ew_argument, all its pointers owned but the word's */
};

EW_MESSAGE(sentence, "base.sentence", EW_CAUTION, "{sentence}");
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
       one++)
    g_assert(g_hash_table_insert(index, (gpointer)(guintptr)(*one)->id,
                                 (gpointer)(guintptr)*one)); /* no two of one identifier */
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

static ew_message *begin(const struct ew_message_kind *kind, const char *id) {
  ew_message *m = g_new0(ew_message, 1);
  m->kind = kind;
  m->id = g_strdup(id);
  m->arguments = g_array_new(FALSE, FALSE, sizeof(struct ew_argument));
  g_array_set_clear_func(m->arguments, disown);
  return m;
}

static void take(ew_message *m, const struct ew_argument *argument) {
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
static gboolean fits(const ew_message *m) {
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
  ew_message *m = begin(kind, kind->id);
  for (; arguments->name; arguments++)
    take(m, arguments);
  g_assert(m->arguments->len <= ARGUMENTS_MOST && fits(m));
  return m;
}

ew_message *ew_message_plain(const struct ew_message_kind *kind) {
  return ew_message_new(kind, &(const struct ew_argument){.name = NULL});
}

ew_message *ew_message_copy(const ew_message *from) {
  ew_message *m = begin(from->kind, from->id);
  m->subject = g_strdup(from->subject);
  for (guint i = 0; i < from->arguments->len; i++)
    take(m, &g_array_index(from->arguments, struct ew_argument, i));
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
  if (*unit && isfinite(a->figure))
    g_string_append_printf(to, " %s", unit);
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

/* ---- stored and read ---- */

static void write_message(const ew_message *m, struct ew_json *json);

static void write_messages(const GPtrArray *list, struct ew_json *json) {
  ew_json_open_array(json, "messages");
  for (guint i = 0; i < list->len; i++) {
    ew_json_open(json, NULL);
    write_message(g_ptr_array_index(list, i), json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

/* One member, under its kind: {"quantity": 531, "of": "rotational speed", "decimals": 0, "sign": true}. */
static void write_argument(const struct ew_argument *a, struct ew_json *json) {
  const char *key = argument_keys[a->kind];
  ew_json_open(json, a->name);
  switch (a->kind) {
  case EW_ARGUMENT_TEXT: ew_json_text(json, key, a->text); break;
  case EW_ARGUMENT_WORD: ew_json_text(json, key, a->word->id); break;
  case EW_ARGUMENT_COUNT: ew_json_integer(json, key, a->count); break;
  case EW_ARGUMENT_FIGURE:
  case EW_ARGUMENT_SHARE:
  case EW_ARGUMENT_QUANTITY:
    ew_json_number(json, key, a->figure);
    if (a->kind == EW_ARGUMENT_QUANTITY)
      ew_json_text(json, "of", ew_kind_name(a->quantity));
    ew_json_integer(json, "decimals", a->decimals);
    if (a->sign)
      ew_json_boolean(json, "sign", TRUE);
    break;
  case EW_ARGUMENT_MESSAGE:
    ew_json_open(json, key);
    write_message(a->message, json);
    ew_json_close(json);
    break;
  case EW_ARGUMENT_MESSAGES: write_messages(a->messages, json); break;
  case EW_ARGUMENT_KINDS_COUNT: g_assert_not_reached();
  }
  ew_json_close(json);
}

static void write_message(const ew_message *m, struct ew_json *json) {
  ew_json_text(json, "id", m->id);
  if (m->subject)
    ew_json_text(json, "about", m->subject);
  if (m->arguments->len == 0)
    return;
  ew_json_open(json, "arguments");
  for (guint i = 0; i < m->arguments->len; i++)
    write_argument(&g_array_index(m->arguments, struct ew_argument, i), json);
  ew_json_close(json);
}

char *ew_message_write(const ew_message *message) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  write_message(message, &json);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

static ew_message *read_message(const struct ew_node *node, int depth, GError **error);

static gboolean read_messages(const struct ew_node *node, int depth, GPtrArray *list,
                              GError **error) {
  if (node->kind != EW_NODE_LIST)
    return ew_refuse(error, "messages: not a list");
  for (guint i = 0; i < node->children->len; i++) {
    ew_message *one = read_message(g_ptr_array_index(node->children, i), depth + 1, error);
    if (!one)
      return FALSE;
    ew_messages_add(list, one);
  }
  return TRUE;
}

static gboolean find_quantity(const struct ew_node *map, enum ew_kind *kind) {
  const struct ew_node *of = ew_node_member(map, "of");
  for (int k = 0; of && of->text && k < EW_KINDS_COUNT; k++)
    if (strcmp(ew_kind_name((enum ew_kind)k), of->text) == 0) {
      *kind = (enum ew_kind)k;
      return TRUE;
    }
  return FALSE;
}

static gboolean read_whole(const struct ew_node *node, gint64 *whole) {
  return node && node->text &&
         g_ascii_string_to_signed(node->text, 10, G_MININT64, G_MAXINT64, whole, NULL);
}

static gboolean read_figure(const struct ew_node *map, const struct ew_node *node,
                            struct ew_argument *a) {
  gint64 decimals = 0;
  const struct ew_node *sign = ew_node_member(map, "sign");
  if (!node->text || !read_whole(ew_node_member(map, "decimals"), &decimals) || decimals < 0 ||
      decimals > 9 || (a->kind == EW_ARGUMENT_QUANTITY && !find_quantity(map, &a->quantity)))
    return FALSE;
  a->decimals = (int)decimals;
  a->sign = sign && g_strcmp0(sign->text, "true") == 0;
  a->figure = (double)NAN;
  return strcmp(node->text, "null") == 0 || ew_number_parse(node->text, &a->figure);
}

static const struct ew_node *find_argument_kind(const struct ew_node *map,
                                                enum ew_argument_kind *kind) {
  for (int k = 0; map->kind == EW_NODE_MAP && k < EW_ARGUMENT_KINDS_COUNT; k++) {
    const struct ew_node *node = ew_node_member(map, argument_keys[k]);
    if (node) {
      *kind = (enum ew_argument_kind)k;
      return node;
    }
  }
  return NULL;
}

static gboolean read_argument(const struct ew_node *map, int depth, ew_message *to,
                              GError **error) {
  struct ew_argument a = {.name = map->key};
  const struct ew_node *node = find_argument_kind(map, &a.kind);
  g_autoptr(ew_message) inner = NULL;
  g_autoptr(GPtrArray) list = ew_messages_new();
  gboolean good = node != NULL;
  if (good)
    switch (a.kind) {
    case EW_ARGUMENT_TEXT: good = (a.text = node->text) != NULL; break;
    case EW_ARGUMENT_WORD:
      good = node->text && (a.word = ew_message_kind_find(node->text));
      if (!good && node->text) { /* a later program's word: shown by its identifier */
        a.kind = EW_ARGUMENT_TEXT;
        a.text = node->text;
        good = TRUE;
      }
      break;
    case EW_ARGUMENT_COUNT: good = read_whole(node, &a.count); break;
    case EW_ARGUMENT_FIGURE:
    case EW_ARGUMENT_SHARE:
    case EW_ARGUMENT_QUANTITY: good = read_figure(map, node, &a); break;
    case EW_ARGUMENT_MESSAGE:
      a.message = inner = read_message(node, depth + 1, error);
      return inner ? (take(to, &a), TRUE) : FALSE;
    case EW_ARGUMENT_MESSAGES:
      if (!read_messages(node, depth, list, error))
        return FALSE;
      a.messages = list;
      break;
    case EW_ARGUMENT_KINDS_COUNT: g_assert_not_reached();
    }
  if (!good)
    return ew_refuse(error, "message %s: argument %s is unusable", to->id, map->key);
  take(to, &a);
  return TRUE;
}

static gboolean read_arguments(const struct ew_node *map, int depth, ew_message *to,
                               GError **error) {
  if (map->kind != EW_NODE_MAP || map->children->len > ARGUMENTS_MOST)
    return ew_refuse(error, "message %s: its arguments are unusable", to->id);
  for (guint i = 0; i < map->children->len; i++)
    if (!read_argument(g_ptr_array_index(map->children, i), depth, to, error))
      return FALSE;
  return TRUE;
}

static ew_message *read_message(const struct ew_node *node, int depth, GError **error) {
  const struct ew_node *id = node->kind == EW_NODE_MAP ? ew_node_member(node, "id") : NULL;
  if (!id || !id->text || strlen(id->text) > 200 || depth > DEPTH_MOST) {
    ew_refuse(error,
              "a message without an identifier, or with too many messages within each other");
    return NULL;
  }
  g_autoptr(ew_message) m = begin(ew_message_kind_find(id->text), id->text);
  const struct ew_node *about = ew_node_member(node, "about");
  const struct ew_node *arguments = ew_node_member(node, "arguments");
  m->subject = about ? g_strdup(about->text) : NULL;
  if (arguments && !read_arguments(arguments, depth, m, error))
    return NULL;
  if (m->kind && !fits(m))
    m->kind = NULL; /* the same identifier with other arguments: another program's, shown as such */
  return g_steal_pointer(&m);
}

ew_message *ew_message_read(const char *text, gsize size, GError **error) {
  g_autoptr(ew_node) node = ew_node_parse("message", text, size, error);
  return node ? read_message(node, 0, error) : NULL;
}

ew_message *ew_message_of_sentence(const char *text) {
  return ew_message(&sentence, ew_say_text("sentence", text));
}

void ew_message_write_json(const ew_message *message, enum ew_unit_system units,
                           struct ew_json *json) {
  g_autofree char *text = ew_message_text(message, units);
  write_message(message, json);
  if (json->facts)
    return;
  ew_json_text(json, "severity", ew_severity_keys[ew_message_severity(message)]);
  ew_json_text(json, "text", text);
}

void ew_message_write_member(const ew_message *message, const char *key, enum ew_unit_system units,
                             struct ew_json *json) {
  if (!message) {
    ew_json_text(json, key, NULL);
    return;
  }
  ew_json_open(json, key);
  ew_message_write_json(message, units, json);
  ew_json_close(json);
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

const ew_message *ew_messages_find(const GPtrArray *list, const struct ew_message_kind *kind) {
  for (guint i = 0; list && i < list->len; i++)
    if (ew_message_is(g_ptr_array_index(list, i), kind))
      return g_ptr_array_index(list, i);
  return NULL;
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
