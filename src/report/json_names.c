#include "report/json_names.h"

#include <stdio.h>

void lds_json_name(const char *name, enum lds_quantity quantity, enum lds_json_scale scale, char member[LDS_JSON_NAME])
{
    static const char *const plain[] = {
        [LDS_QUANTITY_ORDER] = "",     [LDS_QUANTITY_NUMBER] = "",          [LDS_QUANTITY_HZ] = "_hz",
        [LDS_QUANTITY_SECONDS] = "_s", [LDS_QUANTITY_MILLISECONDS] = "_ms", [LDS_QUANTITY_DEGREES] = "_deg",
        [LDS_QUANTITY_DB] = "_db",     [LDS_QUANTITY_OHM] = "_ohm",         [LDS_QUANTITY_POWER] = "_w",
    };
    static const char *const level[] = {"_v", "_dbfs", "_full_scale_rms"};
    static const char *const density[] = {"_v_rthz", "_dbfs_hz", "_full_scale_rms_rthz"};
    static const char *const sample[] = {"_v", "_dbfs", "_full_scale"};
    const char *unit = quantity == LDS_QUANTITY_LEVEL     ? level[scale]
                       : quantity == LDS_QUANTITY_DENSITY ? density[scale]
                       : quantity == LDS_QUANTITY_SAMPLE  ? sample[scale]
                                                          : plain[quantity];
    snprintf(member, LDS_JSON_NAME, "%s%s", name, unit);
}

bool lds_json_is_level(enum lds_quantity quantity)
{
    return quantity == LDS_QUANTITY_LEVEL || quantity == LDS_QUANTITY_DENSITY;
}
