/* Paths, queries and JSON bodies, strictly: a percent code that isn't one, JSON that is too deep or says a key
 * twice, and bytes that are no UTF-8 are refused with what is wrong. Of a query's name that occurs twice the last
 * counts. Nothing here knows a socket. */
#include "serve/request.h"
#include "base/error.h"
#include "base/number.h"
#include <jansson.h>
#include <string.h>

#define TARGET_MOST 2000
#define DEPTH_MOST  32

/* %XX and, in a query, '+'; NULL when anything is not strictly so. */
static char *decode(const char *text, gsize size, gboolean plus) {
  GString *out = g_string_sized_new(size);
  gboolean good = TRUE;
  for (gsize i = 0; good && i < size; i++) {
    int c = (guchar)text[i];
    if (c == '%' && i + 2 < size && g_ascii_isxdigit(text[i + 1]) &&
        g_ascii_isxdigit(text[i + 2])) {
      c = g_ascii_xdigit_value(text[i + 1]) * 16 + g_ascii_xdigit_value(text[i + 2]);
      i += 2;
    } else if (c == '%')
      good = FALSE;
    else if (c == '+' && plus)
      c = ' ';
    good = good && c >= 0x20 && c != 0x7f;
    g_string_append_c(out, (char)c);
  }
  good = good && g_utf8_validate(out->str, (gssize)out->len, NULL);
  return g_string_free(out, !good);
}

static gboolean sound_path(const char *path) {
  if (path[0] != '/' || strchr(path, '\\'))
    return FALSE;
  if (path[1] == 0)
    return TRUE;
  g_auto(GStrv) parts = g_strsplit(path + 1, "/", -1);
  for (int i = 0; parts[i]; i++)
    if (!*parts[i] || strcmp(parts[i], ".") == 0 || strcmp(parts[i], "..") == 0)
      return FALSE;
  return TRUE;
}

static gboolean parse_query(const char *text, GHashTable *query) {
  g_auto(GStrv) parts = g_strsplit(text, "&", -1);
  for (int i = 0; parts[i]; i++) {
    if (!*parts[i])
      continue;
    const char *equals = strchr(parts[i], '=');
    gsize length = equals ? (gsize)(equals - parts[i]) : strlen(parts[i]);
    char *name = decode(parts[i], length, TRUE);
    char *value = equals ? decode(equals + 1, strlen(equals + 1), TRUE) : g_strdup("");
    if (!name || !value) {
      g_free(name);
      g_free(value);
      return FALSE;
    }
    g_hash_table_replace(query, name, value);
  }
  return TRUE;
}

gboolean ew_target_parse(const char *target, char **path, GHashTable **query, GError **error) {
  *path = NULL;
  *query = NULL;
  if (strnlen(target, TARGET_MOST + 1) > TARGET_MOST)
    return ew_refuse(error, "the address is longer than %d bytes", TARGET_MOST);
  const char *mark = strchr(target, '?');
  *path = decode(target, mark ? (gsize)(mark - target) : strlen(target), FALSE);
  *query = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
  if (*path && sound_path(*path) && (!mark || parse_query(mark + 1, *query)))
    return TRUE;
  g_clear_pointer(path, g_free);
  g_clear_pointer(query, g_hash_table_unref);
  return ew_refuse(error, "this is not an address of this page");
}

static char *scalar_text(json_t *value, gboolean *number) {
  char buffer[EW_NUMBER_SIZE];
  *number = json_is_number(value);
  switch (json_typeof(value)) {
  case JSON_STRING: return g_strdup(json_string_value(value));
  case JSON_INTEGER: return g_strdup_printf("%lld", (long long)json_integer_value(value));
  case JSON_REAL: return g_strdup(ew_number_write(json_real_value(value), buffer));
  case JSON_TRUE: return g_strdup("yes");
  case JSON_FALSE: return g_strdup("no");
  case JSON_NULL:
  case JSON_OBJECT:
  case JSON_ARRAY: return g_strdup("");
  }
  g_assert_not_reached();
}

static struct ew_node *from_json(json_t *value, const char *key, int depth) {
  struct ew_node *node = g_new0(struct ew_node, 1);
  node->key = g_strdup(key);
  if (!json_is_object(value) && !json_is_array(value)) {
    node->kind = EW_NODE_SCALAR;
    node->text = scalar_text(value, &node->number);
    return node;
  }
  node->kind = json_is_object(value) ? EW_NODE_MAP : EW_NODE_LIST;
  node->children = g_ptr_array_new_with_free_func((GDestroyNotify)ew_node_free);
  if (depth >= DEPTH_MOST)
    return node;
  const char *name;
  json_t *child;
  size_t index;
  if (json_is_object(value)) {
    json_object_foreach(value, name, child) if (!json_is_null(child))
        g_ptr_array_add(node->children, from_json(child, name, depth + 1));
  } else
    json_array_foreach(value, index, child)
        g_ptr_array_add(node->children, from_json(child, NULL, depth + 1));
  return node;
}

static int depth_of(const char *text, gsize size) {
  int depth = 0, most = 0;
  gboolean quoted = FALSE;
  for (gsize i = 0; i < size; i++) {
    if (quoted && text[i] == '\\')
      i++;
    else if (text[i] == '"')
      quoted = !quoted;
    else if (!quoted && (text[i] == '{' || text[i] == '['))
      most = MAX(most, ++depth);
    else if (!quoted && (text[i] == '}' || text[i] == ']'))
      depth--;
  }
  return most;
}

struct ew_node *ew_json_parse(const char *text, gsize size, GError **error) {
  json_error_t problem;
  if (depth_of(text, size) > DEPTH_MOST) {
    ew_refuse(error, "the request is nested deeper than %d levels", DEPTH_MOST);
    return NULL;
  }
  json_t *root = json_loadb(text, size, JSON_REJECT_DUPLICATES, &problem);
  if (!root || !json_is_object(root)) {
    if (root)
      ew_refuse(error, "the request is not a JSON object");
    else
      ew_refuse(error, "the request is not JSON: line %d, column %d: %s", problem.line,
                problem.column, problem.text);
    json_decref(root);
    return NULL;
  }
  struct ew_node *node = from_json(root, NULL, 0);
  json_decref(root);
  return node;
}

void ew_node_write_json(const struct ew_node *node, struct ew_json *json) {
  for (guint i = 0; i < node->children->len; i++) {
    const struct ew_node *child = g_ptr_array_index(node->children, i);
    if (child->kind == EW_NODE_SCALAR) {
      ew_json_text(json, child->key, child->text);
    } else if (child->kind == EW_NODE_MAP) {
      ew_json_open(json, child->key);
      ew_node_write_json(child, json);
      ew_json_close(json);
    } else {
      ew_json_open_array(json, child->key);
      ew_node_write_json(child, json);
      ew_json_close_array(json);
    }
  }
}

void ew_request_free(struct ew_request *r) {
  if (!r)
    return;
  g_free(r->verb);
  g_free(r->path);
  g_clear_pointer(&r->query, g_hash_table_unref);
  g_free(r->content_type);
  g_free(r->if_none_match);
  g_free(r->token);
  g_free(r->here_token);
  g_clear_pointer(&r->body, g_bytes_unref);
  g_free(r);
}

void ew_reply_clear(struct ew_reply *r) {
  if (r->json.text)
    g_string_free(r->json.text, TRUE);
  r->json.text = NULL;
  g_clear_pointer(&r->bytes, g_bytes_unref);
  g_clear_pointer(&r->etag, g_free);
  g_clear_pointer(&r->download, g_free);
  g_clear_pointer(&r->cookie, g_free);
}

const char *ew_request_query(const struct ew_request *r, const char *name) {
  return g_hash_table_lookup(r->query, name);
}

struct ew_node *ew_request_json(const struct ew_request *r, GError **error) {
  if (!r->content_type || !g_str_has_prefix(r->content_type, "application/json")) {
    ew_refuse(error, "the request's Content-Type must be application/json");
    return NULL;
  }
  gsize size;
  const char *text = g_bytes_get_data(r->body, &size);
  return ew_json_parse(text ? text : "", size, error);
}

const char *ew_node_text(const struct ew_node *map, const char *key) {
  const struct ew_node *child = ew_node_member(map, key);
  return child && child->kind == EW_NODE_SCALAR ? child->text : NULL;
}
