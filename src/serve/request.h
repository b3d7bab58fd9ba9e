/* One request and its reply as the handlers see them: no socket, no library. */
#pragma once
#include "base/language.h"
#include "base/json_writer.h"
#include "base/node.h"

struct ew_request {
  char *verb;          /* "GET" */
  char *path;          /* decoded, begins with '/', no empty or dotted segments */
  GHashTable *query;   /* char* -> char*, decoded; the last of equal names counts */
  char *content_type;  /* or NULL */
  char *if_none_match; /* or NULL */
  char *token;         /* of a paired device's cookie, or NULL */
  char *here_token;    /* of the cookie of this machine's own browser (here.h), or NULL */
  gboolean takes_gzip;
  const ew_language
      *language; /* the page's own choice, what its browser asks for, or the process's */
  gboolean
      near; /* the peer is this machine, by its loopback name, and no proxy says that it passes it on */
  gboolean from_here; /* near, and with the secret of this machine: the person at it */
  gboolean paired;    /* a device with a right */
  gboolean may_write, may_send;
  guint64 holder;  /* who asks, for fair shares: this machine's person, a device, or an address */
  guint32 address; /* of the peer: IPv4, or 0 */
  GBytes *body;    /* never NULL once the body is in */
  gint64 id;       /* of {id} in the route; 0 without */
};

struct ew_reply {
  guint status;        /* 0: 200 */
  const char *type;    /* static */
  struct ew_json json; /* an open object for handlers; its text is taken unless `bytes` is set */
  GBytes *bytes;
  char *etag;         /* with quotes, or NULL */
  char *download;     /* file name offered to the browser, or NULL */
  char *cookie;       /* Set-Cookie, or NULL */
  const char *policy; /* Content-Security-Policy in place of the usual one; static, or NULL */
  gboolean inert;     /* somebody else's bytes: nothing in them may run or be framed */
  gboolean gzipped;
  gboolean keep;      /* the browser may keep it and ask again with its tag */
  gboolean changed;   /* the book was changed: other viewers are notified */
  gboolean reconnect; /* every event stream ends, so that rights are asked again */
};

/* "/api/v1/pulls?engine=2" taken apart, strictly: at most 2,000 bytes, every %XX two hex digits, no
 * %00 or control characters, valid UTF-8, no empty, "." or ".." segment, no backslash. */
gboolean ew_target_parse(const char *target, char **path, GHashTable **query, GError **error);

/* A body of JSON (RFC 8259, duplicate keys refused, at most 32 deep) as the tree that field tables
 * read. A JSON number is an inside figure; a text may carry any unit. */
struct ew_node *ew_json_parse(const char *text, gsize size, GError **error);
/* The tree as JSON members, every figure as it was typed. */
void ew_node_write_json(const struct ew_node *map, struct ew_json *json);

void ew_request_free(struct ew_request *request);
void ew_reply_clear(struct ew_reply *reply);
/* A member of the query, or NULL. */
const char *ew_request_query(const struct ew_request *request, const char *name);
/* The body's JSON object; refuses another content type. */
struct ew_node *ew_request_json(const struct ew_request *request, GError **error);
/* Text of a member, or NULL. */
const char *ew_node_text(const struct ew_node *map, const char *key);
