using GrooveLab.Music.Ensemble;

namespace GrooveLab.Export;

/// <summary>A file that a kind of output has in a rehearsal pack.</summary>
/// <param name="Folder">The folder for such files, such as "sheets".</param>
/// <param name="Label">What it is, in the words of the index page, such as "MIDI file" or "sheet for the cello".</param>
/// <param name="Suffix">What its name says behind the song's title, such as "cello"; empty for nothing.</param>
/// <param name="Ending">The ending of its name.</param>
/// <param name="Make">Makes its content; the band is the one that was given to <see cref="ExportKind.Packed"/>.</param>
internal sealed record PackedFile(string Folder, string Label, string Suffix, string Ending, Func<byte[]> Make)
{
    /// <summary>A job for a kind that can only make files from jobs.</summary>
    /// <param name="band">The band.</param>
    public static ExportJob JobOf(BarComposer band) => new()
    {
        Band = band,
        Path = string.Empty,
        OpenBank = () => throw new InvalidOperationException("A file of a pack that is no sound needs no bank."),
    };
}
