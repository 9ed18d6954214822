// SPDX-License-Identifier: Apache-2.0
#include "web/code_reader.hpp"

#define ZX_USE_UTF8 // the library asks for it, for the text of its next release
#include <ZXing/ReadBarcode.h>

#include <exception>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::int64_t narrowest_picture = 21; ///< modules of the smallest code, ISO/IEC 18004 version 1

} // namespace

Result<std::optional<std::string>> read_code(std::int64_t width, std::int64_t height, std::string_view grey)
{
    if (width < 1 || height < 1 || width > widest_picture || height > widest_picture)
        return Error{Errc::invalid_input,
                     fmt::format("A picture of {} by {} pixels cannot be read: send 1 to {} pixels each way",
                                 width, height, widest_picture)};
    if (grey.size() != static_cast<std::size_t>(width) * static_cast<std::size_t>(height))
        return Error{Errc::invalid_input, fmt::format("{} bytes are not a grey picture of {} by {} pixels",
                                                      grey.size(), width, height)};
    if (width < narrowest_picture || height < narrowest_picture) return std::optional<std::string>{};
    ZXing::DecodeHints hints;
    hints.setFormats(ZXing::BarcodeFormat::QRCode | ZXing::BarcodeFormat::MicroQRCode);
    try {
        ZXing::Result const found =
            ZXing::ReadBarcode({reinterpret_cast<std::uint8_t const*>(grey.data()), static_cast<int>(width),
                                static_cast<int>(height), ZXing::ImageFormat::Lum},
                               hints);
        if (!found.isValid()) return std::optional<std::string>{};
        return std::optional<std::string>{found.text()};
    } catch (std::exception const&) {
        // Whatever the library stumbled over in this picture, the next one may do.
        return std::optional<std::string>{};
    }
}

} // namespace guidepin::web
