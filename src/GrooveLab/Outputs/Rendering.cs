using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;

namespace GrooveLab.Outputs;

/// <summary>Renders a band to files and reports them.</summary>
internal static class Rendering
{
    /// <summary>Renders the mix.</summary>
    public static RenderedFile Mix(IBarSource band, string path, RenderOptions options, SoundFontBank bank, bool dry) =>
        Report.Progress("rendering " + Path.GetFileName(path), (progress, stop) =>
            Renderer(band, bank, dry).RenderMix(band, path, options, progress, stop));

    /// <summary>Renders each part to a file of its own.</summary>
    public static IReadOnlyList<RenderedFile> Stems(
        IBarSource band, string folder, RenderOptions options, SoundFontBank bank, bool dry) =>
        Report.Progress("rendering the parts", (progress, stop) =>
            Renderer(band, bank, dry).RenderStems(band, folder, options, progress, stop));

    /// <summary>One line about a file: path, length, sample rate.</summary>
    public static string Line(RenderedFile file)
    {
        var time = TimeSpan.FromSeconds((double)file.Frames / file.SampleRate);
        return $"{OutputFile.NameOf(file.Path)}: {(int)time.TotalMinutes}:{time.Seconds:00}.{time.Milliseconds:000}, {file.SampleRate} Hz";
    }

    /// <summary>Reports a file, and its problems on standard error.</summary>
    /// <param name="file">The file.</param>
    /// <param name="output">The path that the user gave; if it is standard output, the report goes to standard error.</param>
    /// <param name="isOneOfMany">Whether other files are reported too, so that problems need the file's name.</param>
    /// <param name="isStem">Whether it is the sound of one part, which may rest throughout.</param>
    public static void Tell(RenderedFile file, string output, bool isOneOfMany = false, bool isStem = false)
    {
        OutputFile.Remarks(output).WriteLine(Line(file));
        if (!isStem && double.IsNegativeInfinity(file.PeakDecibels))
        {
            Console.Error.WriteLine($"groovelab: {OutputFile.NameOf(file.Path)} is silent: nothing sounds in it");
        }

        HealthReport.Tell(file.Health, isOneOfMany ? Path.GetFileName(file.Path) : null);
    }

    private static Renderer Renderer(IBarSource band, SoundFontBank bank, bool dry) =>
        new(rate => Banks.Synth(bank, rate, band.Band, dry));
}
