/* Messages as JSON: written as their facts, and read again from a store or another program. Reading believes nothing: a kind that this
 * program does not know, or that has other arguments here, is kept and shown by its identifier; depth and number of arguments are
 * bounded. */
#include "base/message_parts.h"
#include "base/message_node.h"
#include "base/error.h"
#include "base/node.h"
#include "base/number.h"
#include <math.h>
#include <string.h>

#define DEPTH_MOST 8 /* messages within messages, as read */

static const char *const argument_keys[EW_ARGUMENT_KINDS_COUNT] = {
    "text", "term", "word", "count", "figure", "share", "quantity", "message", "messages"};

EW_MESSAGE(sentence, "base.sentence", EW_CAUTION, "{sentence}");

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
  case EW_ARGUMENT_TEXT:
  case EW_ARGUMENT_TERM: ew_json_text(json, key, a->text); break;
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
    case EW_ARGUMENT_TEXT:
    case EW_ARGUMENT_TERM: good = (a.text = node->text) != NULL; break;
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
      return inner ? (ew_message_take(to, &a), TRUE) : FALSE;
    case EW_ARGUMENT_MESSAGES:
      if (!read_messages(node, depth, list, error))
        return FALSE;
      a.messages = list;
      break;
    case EW_ARGUMENT_KINDS_COUNT: g_assert_not_reached();
    }
  if (!good)
    return ew_refuse(error, "message %s: argument %s is unusable", to->id, map->key);
  ew_message_take(to, &a);
  return TRUE;
}

static gboolean read_arguments(const struct ew_node *map, int depth, ew_message *to,
                               GError **error) {
  if (map->kind != EW_NODE_MAP || map->children->len > EW_MESSAGE_ARGUMENTS_MOST)
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
  g_autoptr(ew_message) m = ew_message_begin(ew_message_kind_find(id->text), id->text);
  const struct ew_node *about = ew_node_member(node, "about");
  const struct ew_node *arguments = ew_node_member(node, "arguments");
  m->subject = about ? g_strdup(about->text) : NULL;
  if (arguments && !read_arguments(arguments, depth, m, error))
    return NULL;
  if (m->kind && !ew_message_fits(m))
    m->kind = NULL; /* the same identifier with other arguments: another program's, shown as such */
  return g_steal_pointer(&m);
}

ew_message *ew_message_read(const char *text, gsize size, GError **error) {
  g_autoptr(ew_node) node = ew_node_parse("message", text, size, error);
  return node ? read_message(node, 0, error) : NULL;
}

ew_message *ew_message_of_node(const struct ew_node *node, GError **error) {
  return read_message(node, 0, error);
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
