using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Commands;

/// <summary>Renders a band into files and says where they are.</summary>
internal static class Rendering
{
    /// <summary>Renders the mix.</summary>
    public static RenderedFile Mix(BarComposer band, string path, RenderOptions options, SoundFontBank bank, bool dry) =>
        Report.Progress("rendering " + Path.GetFileName(path), (progress, stop) =>
            Renderer(band, bank, dry).RenderMix(band, path, options, progress, stop));

    /// <summary>Renders each part into a file of its own.</summary>
    public static IReadOnlyList<RenderedFile> Stems(
        BarComposer band, string folder, RenderOptions options, SoundFontBank bank, bool dry) =>
        Report.Progress("rendering the parts", (progress, stop) =>
            Renderer(band, bank, dry).RenderStems(band, folder, options, progress, stop));

    /// <summary>One line about a file: where, how long, how loud.</summary>
    public static string Line(RenderedFile file)
    {
        var time = TimeSpan.FromSeconds((double)file.Frames / file.SampleRate);
        return $"{file.Path}: {(int)time.TotalMinutes}:{time.Seconds:00}.{time.Milliseconds:000}, {file.SampleRate} Hz";
    }

    /// <summary>Tells about a file on standard output, and on standard error what was not as it should be.</summary>
    /// <param name="file">The file.</param>
    /// <param name="isOneOfMany">Whether others are told about too, so that troubles need its name.</param>
    public static void Tell(RenderedFile file, bool isOneOfMany = false)
    {
        Console.Out.WriteLine(Line(file));
        HealthReport.Tell(file.Health, isOneOfMany ? Path.GetFileName(file.Path) : null);
    }

    private static Renderer Renderer(BarComposer band, SoundFontBank bank, bool dry) =>
        new(rate => Banks.Synth(bank, rate, band.Band, dry));
}
