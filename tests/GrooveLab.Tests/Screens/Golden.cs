using System.Runtime.CompilerServices;
using Xunit;

namespace GrooveLab.Tests.Screens;

/// <summary>Readable text files beside the tests. GROOVELAB_UPDATE_GOLDEN=1 rewrites them; a missing one fails.</summary>
internal static class Golden
{
    public static void Equal(string name, string text, [CallerFilePath] string source = "")
    {
        var path = Path.Combine(Path.GetDirectoryName(source)!, "golden", name + ".txt");
        if (Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_GOLDEN") == "1")
        {
            Directory.CreateDirectory(Path.GetDirectoryName(path)!);
            File.WriteAllText(path, text);
        }

        Assert.True(File.Exists(path), $"{path} not found; GROOVELAB_UPDATE_GOLDEN=1 writes it.");
        Assert.Equal(File.ReadAllText(path), text);
    }
}
