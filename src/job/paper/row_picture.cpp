// SPDX-License-Identifier: Apache-2.0
#include "job/paper/row_picture.hpp"

#include "job/assess/link_row.hpp"

#include <fmt/format.h>

namespace guidepin::job {

namespace {

drawing::Standing standing_of(CellMark mark)
{
    switch (mark) {
    case CellMark::pass:
        return drawing::Standing::pass;
    case CellMark::marginal_pass:
        return drawing::Standing::marginal_pass;
    case CellMark::marginal_fail:
        return drawing::Standing::marginal_fail;
    case CellMark::fail:
    case CellMark::dark:
        return drawing::Standing::fail;
    case CellMark::held:
        return drawing::Standing::held;
    case CellMark::open:
        return drawing::Standing::open;
    case CellMark::unused:
        break;
    }
    return drawing::Standing::unused;
}

drawing::Tank tank_of(RowCell const& cell)
{
    drawing::Tank tank;
    tank.standing = standing_of(cell.mark);
    if (cell.mark == CellMark::dark) tank.description = "no light";
    if (cell.level) tank.level = static_cast<double>(*cell.level) / 1000;
    return tank;
}

} // namespace

drawing::Row row_of(std::string const& name, plant::Family const& family, std::string_view row)
{
    drawing::Row drawing;
    drawing.name = name;
    drawing.rows = family.rows;
    drawing.columns = family.columns;
    for (WavelengthCells const& wavelength : read_row(row)) {
        drawing::RowLayer& layer = drawing.layers.emplace_back();
        layer.label = fmt::format("{} nm", wavelength.wavelength_nm);
        for (RowCell const& cell : wavelength.cells) layer.tanks.push_back(tank_of(cell));
        layer.tanks.resize(static_cast<std::size_t>(family.positions()),
                           drawing::Tank{drawing::Standing::unused, {}, {}});
    }
    return drawing;
}

} // namespace guidepin::job
