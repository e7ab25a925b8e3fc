using System.Buffers.Binary;
using System.Text;

namespace GrooveLab.Audio.Vorbis;

/// <summary>
/// The comments of a Vorbis, Opus or FLAC stream, such as its title. Source: Vorbis I specification, section 5; RFC 7845, section 5.2; RFC 9639,
/// section 8.6. Immutable.
/// </summary>
/// <param name="Fields">Names and values; empty values are left out.</param>
internal sealed record CommentHeader(IReadOnlyList<(string Name, string? Value)> Fields)
{
    private const string Writer = "GrooveLab";

    /// <summary>The header without a signature before it and without the final bit that Vorbis itself adds.</summary>
    public byte[] ToBytes()
    {
        var fields = Fields.Where(field => !string.IsNullOrWhiteSpace(field.Value)).Select(field => $"{field.Name}={field.Value}").ToList();
        var bytes = new List<byte>();
        Add(bytes, Writer);
        AddNumber(bytes, fields.Count);
        fields.ForEach(field => Add(bytes, field));
        return [.. bytes];
    }

    private static void Add(List<byte> bytes, string text)
    {
        var encoded = Encoding.UTF8.GetBytes(text);
        AddNumber(bytes, encoded.Length);
        bytes.AddRange(encoded);
    }

    private static void AddNumber(List<byte> bytes, int number)
    {
        Span<byte> four = stackalloc byte[4];
        BinaryPrimitives.WriteInt32LittleEndian(four, number);
        bytes.AddRange(four);
    }
}
