using System.Buffers.Binary;
using System.Text;
using GrooveLab.Audio.BuiltInSounds;

namespace GrooveLab.Tests;

/// <summary>The built-in bank as a file, with changed records. Places of fields after SoundFont 2.04, sections 7.2 and 7.10.</summary>
internal static class ChangedBank
{
    private const int PresetSize = 38;
    private const int SampleSize = 46;

    /// <summary>The bank with other bank and program numbers.</summary>
    public static byte[] WithNumbers(Func<int, int, (int Bank, int Program)> change) => WithRecords("phdr", PresetSize, record =>
    {
        var numbers = change(BinaryPrimitives.ReadUInt16LittleEndian(record[22..]), BinaryPrimitives.ReadUInt16LittleEndian(record[20..]));
        BinaryPrimitives.WriteUInt16LittleEndian(record[20..], (ushort)numbers.Program);
        BinaryPrimitives.WriteUInt16LittleEndian(record[22..], (ushort)numbers.Bank);
    });

    /// <summary>The bank with another range in all generators that give a range of keys (number 43).</summary>
    public static byte[] WithKeys(byte lowest, byte highest) => WithRecords("igen", 4, record =>
    {
        if (BinaryPrimitives.ReadUInt16LittleEndian(record) == 43)
        {
            (record[2], record[3]) = (lowest, highest);
        }
    });

    /// <summary>The bank with one name, given as bytes, for all presets.</summary>
    public static byte[] WithPresetName(byte[] name) => WithRecords("phdr", PresetSize, record =>
    {
        record[..20].Clear();
        name.CopyTo(record);
    });

    /// <summary>The bank with another sample rate in all sample headers.</summary>
    public static byte[] WithSampleRate(uint rate) => WithRecords(
        "shdr", SampleSize, record => BinaryPrimitives.WriteUInt32LittleEndian(record[36..], rate));

    private static byte[] WithRecords(string table, int size, SpanAction change)
    {
        var file = BuiltInBank.Create();
        var at = file.AsSpan().IndexOf(Encoding.ASCII.GetBytes(table));
        var length = BinaryPrimitives.ReadInt32LittleEndian(file.AsSpan(at + 4));

        // The last record only ends the table.
        for (var i = 0; i < (length / size) - 1; i++)
        {
            change(file.AsSpan(at + 8 + (i * size), size));
        }

        return file;
    }

    private delegate void SpanAction(Span<byte> record);
}
