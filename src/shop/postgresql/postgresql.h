/* The shop's store in PostgreSQL: a class of shop/store.h. */
#pragma once
#include "shop/store.h"

struct ew_shop_store *ew_postgresql_open(const char *address, const gint *stop, GError **error);
