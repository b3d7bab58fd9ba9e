/* A YAML or JSON document as a tree that remembers where each value stood.
 *
 * One document, no anchors, aliases or tags, depth at most 32, at most 4 MB: a file that people
 * write by hand needs no more, and hostile ones are refused early. */
#pragma once
#include <glib.h>

enum ew_node_kind { EW_NODE_SCALAR, EW_NODE_LIST, EW_NODE_MAP };

typedef struct ew_node ew_node; /* for g_autoptr only */

struct ew_node {
  enum ew_node_kind kind;
  char *key;           /* when a member of a map, else NULL */
  char *text;          /* of a scalar, else NULL */
  gboolean quoted;     /* the scalar stood in quotes */
  gboolean number;     /* the scalar is a JSON number, in SI under a one-word key */
  guint line;          /* from 1 */
  GPtrArray *children; /* of a list or map: struct ew_node*, in file order */
};

struct ew_node *ew_node_parse(const char *name, const char *text, gsize size, GError **error);
struct ew_node *ew_node_read(const char *path, GError **error);
void ew_node_free(struct ew_node *node);
const struct ew_node *ew_node_member(const struct ew_node *map, const char *key); /* or NULL */
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_node, ew_node_free)
