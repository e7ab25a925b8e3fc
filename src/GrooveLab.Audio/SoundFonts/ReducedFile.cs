using System.Buffers.Binary;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The same bank without its sound: the version, a name, the nine tables and an empty sample chunk. A parser that reads whole
/// chunks into memory thus reads kilobytes, and the sound stays where it is mapped.
/// </summary>
internal static class ReducedFile
{
    public static byte[] Make(BankBytes bytes, RiffLayout layout, string bankName)
    {
        var version = layout["ifil"];
        if (version.Length < 4)
            throw new SoundFontException($"{bankName}: ifil", $"{version.Length} bytes instead of 4");

        using var stream = new MemoryStream();
        stream.Write("RIFF\0\0\0\0sfbk"u8);
        WriteList(stream, "INFO"u8, list =>
        {
            WriteChunk(list, "ifil", bytes.Slice(version.Offset, 4));
            WriteChunk(list, "isng", "EMU8000\0"u8);
            WriteChunk(list, "INAM", "Bank\0\0"u8);
        });
        WriteList(stream, "sdta"u8, list => WriteChunk(list, "smpl", []));
        WriteList(stream, "pdta"u8, list =>
        {
            foreach (var name in RiffLayout.HydraNames)
            {
                var chunk = layout[name];
                if (chunk.Length > int.MaxValue / 16)
                    throw new SoundFontException($"{bankName}: {name}", $"{chunk.Length} bytes are too many");
                WriteChunk(list, name, bytes.Slice(chunk.Offset, (int)chunk.Length));
            }
        });
        var file = stream.ToArray();
        BinaryPrimitives.WriteInt32LittleEndian(file.AsSpan(4), file.Length - 8);
        return file;
    }

    private static void WriteList(MemoryStream stream, ReadOnlySpan<byte> form, Action<MemoryStream> content)
    {
        using var list = new MemoryStream();
        list.Write(form);
        content(list);
        WriteChunk(stream, "LIST", list.ToArray());
    }

    private static void WriteChunk(MemoryStream stream, string name, ReadOnlySpan<byte> data)
    {
        Span<byte> header = stackalloc byte[8];
        System.Text.Encoding.Latin1.GetBytes(name, header);
        BinaryPrimitives.WriteInt32LittleEndian(header[4..], data.Length);
        stream.Write(header);
        stream.Write(data);
        if ((data.Length & 1) != 0)
            stream.WriteByte(0);
    }
}
