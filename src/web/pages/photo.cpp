// SPDX-License-Identifier: Apache-2.0
#include "web/pages/photo.hpp"

#include "job/entry/entries.hpp"

#include <fmt/format.h>
#include <sodium.h>

namespace guidepin::web {

namespace {

bool begins(std::string_view bytes, std::string_view with, std::size_t at = 0)
{
    return bytes.size() >= at + with.size() && bytes.substr(at, with.size()) == with;
}

} // namespace

Result<std::string> bytes_of(std::string_view base64)
{
    while (!base64.empty() && base64.back() == '=') base64.remove_suffix(1);
    std::string bytes(base64.size() / 4 * 3 + 3, '\0');
    std::size_t length = 0;
    if (sodium_base642bin(reinterpret_cast<unsigned char*>(bytes.data()), bytes.size(), base64.data(),
                          base64.size(), nullptr, &length, nullptr,
                          sodium_base64_VARIANT_ORIGINAL_NO_PADDING) != 0)
        return Error{Errc::invalid_input, "The photo is not written in base64"};
    bytes.resize(length);
    return bytes;
}

Result<Picture> picture_of(std::string_view data_address)
{
    auto const comma = data_address.find(";base64,");
    if (!begins(data_address, "data:") || comma == std::string_view::npos)
        return Error{Errc::invalid_input, "The photo did not arrive as a picture"};
    Picture picture{std::string(data_address.substr(5, comma - 5)),
                    std::string(data_address.substr(comma + 8))};
    if (picture.base64.size() / 4 * 3 > job::largest_photo)
        return Error{Errc::invalid_input,
                     fmt::format("The photo has {} kB; at most {} kB are kept",
                                 picture.base64.size() / 4 * 3 / 1024, job::largest_photo / 1024)};
    TRY_ASSIGN(std::string const bytes, bytes_of(picture.base64));
    bool const good = (picture.type == "image/jpeg" && begins(bytes, "\xff\xd8\xff")) ||
                      (picture.type == "image/png" && begins(bytes, "\x89PNG\r\n\x1a\n")) ||
                      (picture.type == "image/webp" && begins(bytes, "RIFF") && begins(bytes, "WEBP", 8));
    if (!good) return Error{Errc::invalid_input, "A photo is a JPEG, PNG or WebP picture"};
    return picture;
}

} // namespace guidepin::web
