/* Host, Origin and Sec-Fetch headers, as texts: pure functions without state. What isn't strictly of the form
 * "name:port" is refused. */
#include "serve/guard.h"
#include <gio/gio.h>
#include <string.h>

/* "name:port" or "[::1]:port" taken apart; the port may be left out only when it is 80. */
static gboolean split(const char *host, char **name, guint *port) {
  const char *end = host[0] == '[' ? strchr(host, ']') : NULL;
  const char *colon = strrchr(end ? end : host, ':');
  *port = 80; /* or 443, and then the port is printed anyway */
  if (host[0] == '[' && !end)
    return FALSE;
  if (colon) {
    guint64 value;
    if (!g_ascii_string_to_unsigned(colon + 1, 10, 1, 65535, &value, NULL))
      return FALSE;
    *port = (guint)value;
  }
  if (end && end[1] != 0 && end + 1 != colon)
    return FALSE;
  *name = end ? g_strndup(host + 1, (gsize)(end - host - 1))
              : g_strndup(host, colon ? (gsize)(colon - host) : strlen(host));
  return TRUE;
}

static gboolean own_name(const struct ew_guard *guard, const char *name) {
  if (g_ascii_strcasecmp(name, "localhost") == 0)
    return TRUE;
  g_autoptr(GInetAddress) address = g_inet_address_new_from_string(name);
  if (address) /* an address cannot be rebound */
    return guard->lan || g_inet_address_get_is_loopback(address);
  if (!guard->lan)
    return FALSE;
  g_autofree char *local = g_strconcat(g_get_host_name(), ".local", NULL);
  return g_ascii_strcasecmp(name, g_get_host_name()) == 0 || g_ascii_strcasecmp(name, local) == 0;
}

gboolean ew_guard_host(const struct ew_guard *guard, const char *host) {
  g_autofree char *name = NULL;
  guint port;
  if (!host || strlen(host) >= 256 || !split(host, &name, &port))
    return FALSE;
  return (guard->public_name && g_ascii_strcasecmp(name, guard->public_name) == 0) ||
         (port == guard->port && own_name(guard, name));
}

gboolean ew_guard_near(const struct ew_guard *guard, const char *host) {
  const struct ew_guard here = {.port = guard->port};
  return ew_guard_host(&here, host);
}

static gboolean ends_in(const char *name, const char *end) {
  gsize size = strlen(name), of = strlen(end);
  return size > of && g_ascii_strcasecmp(name + size - of, end) == 0;
}

/* By how such names are made, not by a list of proxies: a browser sends none that begins or ends so. */
gboolean ew_guard_is_forwarding(const char *name) {
  static const char *const begins[] = {"X-Forwarded", "X-Original-", "X-Rewrite-"};
  static const char *const ends[] = {"-IP", "-Addr", "-Host"};
  gboolean is = g_ascii_strcasecmp(name, "Forwarded") == 0 || g_ascii_strcasecmp(name, "Via") == 0;
  for (gsize i = 0; i < G_N_ELEMENTS(begins); i++)
    is |= g_ascii_strncasecmp(name, begins[i], strlen(begins[i])) == 0;
  for (gsize i = 0; i < G_N_ELEMENTS(ends); i++)
    is |= ends_in(name, ends[i]);
  return is;
}

gboolean ew_guard_site(const char *site, const char *mode, gboolean interface) {
  if (!site || strcmp(site, "same-origin") == 0 || strcmp(site, "none") == 0)
    return TRUE;
  return !interface && g_strcmp0(mode, "navigate") == 0;
}

gboolean ew_guard_origin(const struct ew_guard *guard, const char *origin, const char *host,
                         const char *site) {
  if (site && strcmp(site, "same-origin") != 0 && strcmp(site, "none") != 0)
    return FALSE;
  if (!origin)
    return TRUE;
  const char *scheme = guard->tls ? "https://" : "http://";
  return host && g_str_has_prefix(origin, scheme) &&
         g_ascii_strcasecmp(origin + strlen(scheme), host) == 0;
}
