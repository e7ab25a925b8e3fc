using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Export;

/// <summary>A chart to be written to a file: what, where and how. An <see cref="ExportKind"/> writes it.</summary>
internal sealed record ExportJob
{
    /// <summary>The band with the command's options: bars, random seed, tempo, feel, key, and with or without its lead-in.</summary>
    public required BarComposer Band { get; init; }

    /// <summary>The chart with the same options.</summary>
    public Chart Chart => Band.Chart;

    /// <summary>The file to write: its full path, or standard output.</summary>
    public required string Path { get; init; }

    /// <summary>Whether existing files are replaced.</summary>
    public bool Force { get; init; }

    /// <summary>The files that the command reads, none of which is written over. Null is no file.</summary>
    public IReadOnlyList<string?> Inputs { get; init; } = [];

    /// <summary>Whether every note is exactly on its written time, without human feel: <c>--exact</c>.</summary>
    public bool IsExact { get; init; }

    /// <summary>The one part that is written, by name, instrument or role: <c>--part</c>; null for the band. It exists.</summary>
    public string? Part { get; init; }

    /// <summary>Whether the words are written, for the singer: <c>--singer</c>.</summary>
    public bool ForSinger { get; init; }

    /// <summary>The parts that are left out, by name, instrument or role: <c>--without</c>. They exist.</summary>
    public IReadOnlyList<string> Without { get; init; } = [];

    /// <summary>The folder for a file of each part: <c>--stems</c>; null for none.</summary>
    public string? Stems { get; init; }

    /// <summary>Ends the command if a part that it names does not exist.</summary>
    /// <exception cref="CommandFailure">The message lists the parts.</exception>
    public void NeedParts()
    {
        try
        {
            Renderer.PartsOf(Band, new RenderOptions { Only = Part is { } part ? [part] : null, Without = Without });
        }
        catch (ArgumentException problem)
        {
            throw CommandFailure.BadInput(problem.Message);
        }
    }

    /// <summary>Opens the bank that <c>--bank</c> names, or the built-in one.</summary>
    public required Func<SoundFontBank> OpenBank { get; init; }
}
