using GrooveLab.Exchange.Midi;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;
using GrooveLab.Outputs;

namespace GrooveLab.Export;

/// <summary>A MIDI file of the whole band, a track for each part.</summary>
internal sealed class MidiFileOutput : ExportKind
{
    /// <inheritdoc/>
    public override string Name => "a MIDI file";

    /// <inheritdoc/>
    public override string Plural => "MIDI files";

    /// <inheritdoc/>
    public override IReadOnlyList<string> Endings { get; } = [".mid", ".midi"];

    /// <inheritdoc/>
    public override IReadOnlyList<string> Shown => [Endings[0]];

    /// <inheritdoc/>
    public override IReadOnlyList<string> Takes { get; } = [Exact, NoCountIn];

    /// <inheritdoc/>
    public override IReadOnlyDictionary<string, string> Refusals { get; } = new Dictionary<string, string>(StringComparer.Ordinal)
    {
        [Part] = "does not fit a MIDI file, which has a track for each part",
        [Without] = "does not fit a MIDI file, which has a track for each part",
        [Stems] = "does not fit a MIDI file, which has a track for each part",
        [Bank] = "does not fit a MIDI file, which contains no sound",
    };

    /// <summary>The file's bytes, and what is said about them.</summary>
    /// <param name="job">The job.</param>
    /// <exception cref="CommandFailure">A MIDI file cannot contain the music.</exception>
    public static MidiExportResult Make(ExportJob job)
    {
        try
        {
            return MidiExport.Of(job.Band, new MidiExportOptions { HumanFeel = !job.IsExact });
        }
        catch (MidiExportException problem)
        {
            throw CommandFailure.BadInput(problem.Message);
        }
    }

    /// <inheritdoc/>
    public override IReadOnlyList<PackedFile> Packed(BarComposer band) =>
        [new PackedFile("midi", "MIDI file", string.Empty, Endings[0], () => MidiFileWriter.ToBytes(Make(PackedFile.JobOf(band)).File))];

    /// <inheritdoc/>
    public override void Write(ExportJob job)
    {
        var result = Make(job);
        OutputFile.NeedWritten(DurableFile.WriteBytes(job.Path, MidiFileWriter.ToBytes(result.File), OutputFile.Options(job.Force)));
        foreach (var remark in result.Remarks)
        {
            Console.Error.WriteLine("groovelab: " + remark);
        }

        var time = TimeSpan.FromSeconds(new MidiTimeline(result.File).SecondsAt(result.File.Tracks.Max(track => track.EndTick)));
        OutputFile.Remarks(job.Path).WriteLine(
            $"{OutputFile.NameOf(job.Path)}: {(int)time.TotalMinutes}:{time.Seconds:00}.{time.Milliseconds:000}, {result.File.Tracks.Count} tracks, "
            + $"{result.File.Division.Ticks} ticks a quarter");
    }
}
