using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Outputs;

/// <summary>A chart's sound to be written to files: the mix, and each part alone if a folder for them is given.</summary>
internal sealed record SoundJob
{
    /// <summary>The band.</summary>
    public required BarComposer Band { get; init; }

    /// <summary>The file of the mix.</summary>
    public required string Path { get; init; }

    /// <summary>The format of the files, and whether existing ones are replaced.</summary>
    public required SoundFileOptions File { get; init; }

    /// <summary>The files that the command reads, none of which is written over.</summary>
    public IReadOnlyList<string?> Inputs { get; init; } = [];

    /// <summary>The parts that play, by name, instrument or role; null for all that the chart does not silence.</summary>
    public IReadOnlyList<string>? Only { get; init; }

    /// <summary>The parts that do not play.</summary>
    public IReadOnlyList<string> Without { get; init; } = [];

    /// <summary>The folder for a file of each part; null for none.</summary>
    public string? Stems { get; init; }

    /// <summary>Frames a second, in Hz.</summary>
    public int SampleRate { get; init; } = new RenderOptions().SampleRate;

    /// <summary>Seconds of ringing after the end.</summary>
    public double TailSeconds { get; init; } = new RenderOptions().TailSeconds;

    /// <summary>Change of the overall level in dB.</summary>
    public double LevelDecibels { get; init; }

    /// <summary>Whether reverb and chorus are left out.</summary>
    public bool Dry { get; init; }

    /// <summary>The settings for the renderer.</summary>
    public RenderOptions Options => new()
    {
        SampleRate = SampleRate,
        TailSeconds = TailSeconds,
        MasterDecibels = Renderer.DefaultMasterDecibels + LevelDecibels,
        Only = Only,

        // Parts that the chart makes silent are heard only when they are asked for.
        Without = [.. Without, .. Band.Chart.Parts.Where(part => part.Silent && Only?.Any(part.IsCalled) != true).Select(part => part.Name)],
        File = File with { Title = Band.Chart.Title, Description = DescriptionOf(Band) },
    };

    /// <summary>Ends the command if a file cannot be written or is one of those that are read. Call it before any long work.</summary>
    /// <exception cref="CommandFailure">As described.</exception>
    public void Refuse()
    {
        OutputFile.Refuse(Path, File.Force, Inputs);
        foreach (var stem in Stems is { } folder ? Renderer.StemPaths(Band, folder, Options) : [])
        {
            OutputFile.RefuseInput(stem, Inputs);
        }
    }

    /// <summary>Renders the files and reports each.</summary>
    /// <param name="sounds">The bank.</param>
    /// <exception cref="CommandFailure">A part does not exist, or a file cannot be written.</exception>
    public void Write(SoundFontBank sounds)
    {
        try
        {
            Refuse();
            var how = Options;
            Banks.Tell(sounds, Band.Band.Where(Renderer.PartsOf(Band, how)));
            if (Stems is { } folder)
            {
                RenderStems(folder, () => Rendering.Stems(Band, folder, how, sounds, Dry), Path);
            }

            Rendering.Tell(Rendering.Mix(Band, Path, how, sounds, Dry), Path, isOneOfMany: Stems is not null);
        }
        catch (ArgumentException problem)
        {
            throw CommandFailure.BadInput(problem.Message);
        }
    }

    /// <summary>The names in a list with commas; null for no list.</summary>
    public static string[]? Names(string? list) => list?.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);

    /// <summary>What a player shows under the title: the key, the meters and the tempo.</summary>
    /// <param name="band">The band.</param>
    public static string DescriptionOf(BarComposer band) => string.Join(
        ", ", band.Heading.Meters.Select(meter => meter.ToString()).Prepend(band.Heading.Key.ToString()).Append(BarTempo.Of(band.BarAt(0))));

    // Removes a new folder of stems if nothing was written, for instance on a full disk.
    private static void RenderStems(string folder, Func<IReadOnlyList<RenderedFile>> render, string output)
    {
        var isNew = !Directory.Exists(folder);
        Directory.CreateDirectory(folder);
        try
        {
            foreach (var file in render())
            {
                Rendering.Tell(file, output, isOneOfMany: true, isStem: true);
            }
        }
        finally
        {
            if (isNew && !Directory.EnumerateFileSystemEntries(folder).Any())
            {
                Directory.Delete(folder);
            }
        }
    }
}
