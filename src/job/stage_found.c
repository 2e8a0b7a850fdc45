/* found: what there is, in which states it was measured, and what may be added up. */
#include "job/stage.h"

#include "remains/stock_take.h"

static const char *const kinds[] = {"piece",    "measure", "mark", "source",
                                    "handling", "choice",  NULL};

/* Puts a finished table among the result's own; the reference is taken. */
static int put_table(struct stage_run *r, const char *name, json_t *table, struct error *err) {
    json_t *tables = json_object_get(r->result, "tables");
    if (!tables) {
        tables = json_object();
        if (json_object_set_new(r->result, "tables", tables) != 0) {
            json_decref(table);
            return fail_memory(err);
        }
    }
    return table && json_object_set_new(tables, name, table) == 0 ? 0 : fail_memory(err);
}

static int run(struct stage_run *r, struct error *err) {
    const struct find *find = &r->now->find;
    struct stock_take stock;
    struct shopping list;
    if (find->piece_count == 0)
        return fail(err, ERR_MISSING, "Bring in a finds list: relict import FILE list.csv",
                    "There are no pieces yet.");
    int rc = remains_stock_take(&stock, find, r->said, r->arena, err);
    if (!rc) rc = remains_shopping(&list, find, r->said, r->arena, err);
    if (!rc) rc = put_table(r, "stock", remains_stock_table(&stock), err);
    if (!rc) rc = put_table(r, "remarks", remains_remark_table(&stock), err);
    return rc ? rc : put_table(r, "shopping", remains_shopping_table(&list), err);
}

const struct stage stage_found = {"found", "Found", 4, kinds, false, run};
