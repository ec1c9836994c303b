/* factors.c - the factors of a net's classes, made when asked for and kept while they fit. */
#include "factors.h"

#include "flatwright/alloc.h"

fw_status factors_init(factors *store, const fw_net *net, fw_error *err)
{
    *store = (factors){.net = net};
    store->kept = fw_alloc(net->nclasses, sizeof *store->kept);
    return store->kept ? FW_OK : fw_out_of_memory(err);
}

void factors_release(factors *store)
{
    for (int c = 0; store->kept && c < store->net->nclasses; c++)
        factor_free(store->kept[c]);
    fw_free(store->kept);
    *store = (factors){0};
}

fw_status factors_get(factors *store, int class, factor **f, fw_error *err)
{
    *f = store->kept[class];
    return *f ? FW_OK : factor_new(&store->net->classes[class], f, err);
}

void factors_put(factors *store, int class, factor *f)
{
    if (!f || store->kept[class] == f)
        return;
    if (store->bytes + f->bytes > FW_FACTORS_KEPT) {
        factor_free(f);
        return;
    }
    store->kept[class] = f;
    store->bytes += f->bytes;
}
