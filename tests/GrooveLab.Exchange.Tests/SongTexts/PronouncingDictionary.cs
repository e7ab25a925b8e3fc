using System.Diagnostics;
using GrooveLab.Testing;

namespace GrooveLab.Exchange.Tests.SongTexts;

/// <summary>The npm package cmu-pronouncing-dictionary, read by node.</summary>
internal static class PronouncingDictionary
{
    /// <summary>Each entry, a tab, and its sounds: "abide	AH0 B AY1 D". Other pronunciations have a number, "abdomen(2)".</summary>
    public static string[] Lines()
    {
        var modules = Environment.GetEnvironmentVariable("GROOVELAB_NODE_MODULES") ?? "";
        References.Require(
            File.Exists(Path.Combine(modules, "cmu-pronouncing-dictionary", "package.json")),
            "GROOVELAB_NODE_MODULES does not name a node_modules folder with cmu-pronouncing-dictionary in it");
        const string script = "import('cmu-pronouncing-dictionary').then(m => { for (const [w, s] of Object.entries(m.dictionary)) console.log(w + '\\t' + s) })";
        using var process = Process.Start(new ProcessStartInfo("node", ["-e", script])
        {
            RedirectStandardOutput = true,
            UseShellExecute = false,
            WorkingDirectory = Path.GetDirectoryName(modules)!,
        })!;
        var text = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return text.Split('\n', StringSplitOptions.RemoveEmptyEntries);
    }
}
