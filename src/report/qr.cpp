// SPDX-License-Identifier: Apache-2.0
#include "report/qr.hpp"

#include "drawing/shapes.hpp"

#include <memory>

#include <qrencode.h>

namespace guidepin::report {

std::string qr_text(std::string_view record_hash)
{
    std::string text = "GUIDEPIN:SHA256:";
    for (char letter : record_hash) {
        if (letter >= 'a' && letter <= 'z') letter = static_cast<char>(letter - 'a' + 'A');
        text += letter;
    }
    return text;
}

Result<std::string> qr_half_blocks(std::string_view text)
{
    std::unique_ptr<QRcode, void (*)(QRcode*)> const code(
        QRcode_encodeString(std::string(text).c_str(), 0, QR_ECLEVEL_L, QR_MODE_8, 1), QRcode_free);
    if (!code) return Error{Errc::internal, "The text for a QR code is too long or empty."};
    int const modules = code->width, quiet = 4;
    auto const dark = [&](int x, int y) {
        bool const inside = x >= 0 && y >= 0 && x < modules && y < modules;
        return inside && (code->data[y * modules + x] & 1) != 0;
    };
    std::string lines;
    for (int y = -quiet; y < modules + quiet; y += 2) {
        lines += "\033[38;5;16;48;5;231m"; // black on white
        for (int x = -quiet; x < modules + quiet; ++x) {
            bool const upper = dark(x, y), lower = dark(x, y + 1);
            lines += upper && lower ? "█" : upper ? "▀" : lower ? "▄" : " ";
        }
        lines += "\033[0m\n";
    }
    return lines;
}

Result<drawing::Scene> qr_drawing(std::string_view text, double size)
{
    std::unique_ptr<QRcode, void (*)(QRcode*)> const code(
        QRcode_encodeString(std::string(text).c_str(), 0, QR_ECLEVEL_M, QR_MODE_8, 1), QRcode_free);
    if (!code) return Error{Errc::internal, "The text for a QR code is too long or empty."};
    int const modules = code->width;
    double const unit = size / (modules + 8);
    drawing::Path path;
    path.fill = drawing::paint(drawing::Token::ink);
    for (int y = 0; y < modules; ++y) {
        for (int x = 0; x < modules;) {
            int run = 0;
            while (x + run < modules && (code->data[y * modules + x + run] & 1)) ++run;
            // Neighbours in a line are one box: fewer shapes, and no hairline between them.
            if (run > 0) drawing::append_box(path, {(x + 4) * unit, (y + 4) * unit, run * unit, unit});
            x += run > 0 ? run : 1;
        }
    }
    drawing::Scene scene;
    scene.width = scene.height = size;
    scene.name = "QR code";
    scene.description = text;
    scene.add(drawing::filled({0, 0, size, size}, drawing::Token::paper));
    scene.add(std::move(path));
    return scene;
}

} // namespace guidepin::report
